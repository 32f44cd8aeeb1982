"""The words of one language, as a value: scenes hold keys, painters look them up here."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Words:
    """Texts by key, in three sections."""

    language: str
    sentences: Mapping[str, str]
    labels: Mapping[str, str]
    troubles: Mapping[str, str]

    def sentence(self, key: str, values: Iterable[tuple[str, str]] = ()) -> str:
        """Return a sentence (or the sentence for a trouble) with its {fields} filled in.

        A key or field that is missing shows as itself: a word that is amiss must not stop a
        session.
        """
        text = self.sentences.get(key) or self.troubles.get(key)
        return _fill(text, values) if text is not None else key.replace("_", " ")

    def label(self, key: str, values: Iterable[tuple[str, str]] = ()) -> str:
        """Return a short label; a missing key or field shows as itself."""
        text = self.labels.get(key)
        return _fill(text, values) if text is not None else key.replace("_", " ")


class _Missing(dict[str, str]):
    def __missing__(self, key: str) -> str:
        return "{" + key + "}"


def _fill(text: str, values: Iterable[tuple[str, str]]) -> str:
    return text.format_map(_Missing(values))
