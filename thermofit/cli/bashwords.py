"""Completion in bash, which breaks ``SET.csv:ID`` into three words."""

from __future__ import annotations

from click.shell_completion import BashComplete, CompletionItem, add_completion_class

__all__ = ["mend_bash"]


class _Bash(BashComplete):
    """Takes words that bash broke at a colon as one, and gives back the part after it."""

    _kept = ""

    def get_completion_args(self) -> tuple[list[str], str]:
        """Give the words before the one that is typed, and that one as far as it is typed."""
        args, incomplete = super().get_completion_args()
        words: list[str] = []
        for word in (*args, incomplete):
            if words and (word == ":" or words[-1].endswith(":")):
                words[-1] += word
            else:
                words.append(word)
        *before, last = words
        path, colon, _ = last.rpartition(":")
        self._kept = path + colon
        return before, last

    def format_completion(self, item: CompletionItem) -> str:
        """Write a proposal without the words that bash keeps."""
        return f"{item.type},{item.value.removeprefix(self._kept)}"


def mend_bash() -> None:
    """Make this the completion for bash."""
    add_completion_class(_Bash, "bash")
