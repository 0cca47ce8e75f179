"""What is wrong with an element that a job sets, by the key that is to be changed."""

from __future__ import annotations

from stopout.errors import ArtworkError


class SettingError(ArtworkError):
    """An element that cannot be set; `at` is its table, its place there and the key."""

    def __init__(self, key: str, words: str, *, at: tuple[str | int, ...] = ()) -> None:
        super().__init__(words)
        self.key, self.words, self.at = key, words, (*at, key)

    def located(self, table: str, number: int) -> SettingError:
        """Return the same fault with the table that the element stands in."""
        return SettingError(self.key, self.words, at=(table, number))
