"""Write README's first look again, from what `survey analyze` prints on the sample now."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
SAMPLE = ("sample_data/nursery_round.csv", "--site", "sample_data/nursery_site.toml")
README = ROOT / "README.md"


def main() -> None:
    """Replace the first text block of README by the summary down to its third unit."""
    done = subprocess.run(  # noqa: S603  our own command on our own files
        [sys.executable, "-m", "survey.cli", "analyze", *SAMPLE],
        cwd=ROOT, capture_output=True, check=True, encoding="utf-8",
    )
    look = done.stdout[: done.stdout.index("\n  4. ")]
    text = README.read_text(encoding="utf-8")
    text = re.sub(
        r"```text\n.*?\n```", lambda _: f"```text\n{look}\n```", text, count=1, flags=re.DOTALL
    )
    README.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
