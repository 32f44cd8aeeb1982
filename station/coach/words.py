"""The words of one language, as a value: scenes hold keys, painters look them up here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from station.errors import Worded


@dataclass(frozen=True, slots=True)
class Words:
    """Texts by key, in sections."""

    language: str
    sentences: Mapping[str, str]
    labels: Mapping[str, str]
    troubles: Mapping[str, str]
    visit: Mapping[str, str] = field(default_factory=dict)
    """Of the unattended bay's pages."""
    report: Mapping[str, str] = field(default_factory=dict)
    """Of the reports."""
    setup: Mapping[str, str] = field(default_factory=dict)
    """Of a bay's set-up."""
    page: Mapping[str, str] = field(default_factory=dict)
    """Of the coach's page, on a phone or a tablet."""

    def sentence(self, key: str, **values: str) -> str:
        """Return a sentence, or the sentence for a trouble, with its {fields} filled in.

        A key or field that is missing shows as itself: a word that is amiss must not stop a
        session.
        """
        text = (
            self.sentences.get(key)
            or self.troubles.get(key)
            or self.visit.get(key)
            or self.setup.get(key)
        )
        if text is None:
            return key.replace("_", " ")
        return text.format_map(_Missing({name: self.of(one) for name, one in values.items()}))

    def of(self, text: str) -> str:
        """Return a text in this language, where it is one that has words; else as it is."""
        return self.sentence(text.key, **text.values) if isinstance(text, Worded) else text

    def of_report(self, key: str, **values: str) -> str:
        """Return a text of the reports, with its {fields} filled in; missing ones show."""
        text = self.report.get(key)
        return key.replace("_", " ") if text is None else text.format_map(_Missing(values))

    def of_page(self, key: str, **values: str) -> str:
        """Return a text of the coach's page, with its {fields} filled in; missing ones show."""
        text = self.page.get(key)
        return key.replace("_", " ") if text is None else text.format_map(_Missing(values))

    def label(self, key: str) -> str:
        """Return the short word for a key; a missing one shows as itself."""
        return self.labels.get(key) or self.visit.get(key) or key.replace("_", " ")


class _Missing(dict[str, str]):
    def __missing__(self, key: str) -> str:
        return "{" + key + "}"
