"""Write checksums.json, the SHA-256 of every figure file.

Run after the two scripts: `python -m tests.reference.write_checksums`.
"""

from __future__ import annotations

import hashlib
import json

from tests.reference.figures import DATA_FOLDER, HERE, TEXT_FOLDER


def main() -> None:
    """Write the file, one figure file a line."""
    sums = {
        f"{folder.name}/{path.name}": hashlib.sha256(path.read_bytes()).hexdigest()
        for folder in (DATA_FOLDER, TEXT_FOLDER)
        for path in sorted(folder.glob("*.json"))
    }
    (HERE / "checksums.json").write_text(json.dumps(sums, indent=0) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
