"""Words to meaning: numerals, quantities, dates, lexicon, clauses and one reader per record kind."""
