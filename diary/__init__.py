"""A build diary that listens."""
