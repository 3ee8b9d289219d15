"""Tags and words of a page of HTML."""

from __future__ import annotations

from html.parser import HTMLParser


class HtmlPage(HTMLParser):
    """What a page holds: its tags with their attributes, and its words."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.words.append(data)

    @property
    def text(self) -> str:
        """Its words, one space between them."""
        return " ".join(" ".join(self.words).split())

    def count(self, tag: str, css: str) -> int:
        """How many tags of that name have the class."""
        return sum(name == tag and css in (attrs.get("class") or "").split() for name, attrs in self.tags)
