"""How long the truck file reader takes: the demo trucks, and texts of 1 MB made to hold it up.

Run: python tests/benchmarks/reader.py
"""

from __future__ import annotations

import sys
import time
from contextlib import suppress
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from hydrocheck import demo
from hydrocheck.errors import HydrocheckError
from hydrocheck.model import truck_from_text
from hydrocheck.model.files import LARGEST as N

HEAD = 'schema = 1\n[truck]\nname = "x"\n'
TEXTS = {
    **{f"demo {name}": demo.text(name) for name in demo.names()},
    "brackets": "[" * N,
    "dotted key": "a." * (N // 2) + "b = 1",
    "dotted key in an inline table": "a = {" + "a." * (N // 2) + "b = 1}",
    "array of empty arrays": "a = [" + "[]," * (N // 3) + "]",
    "digits": "a = " + "9" * N,
    "quotes": '"' * N,
    "unclosed texts that look closed": '"""\n' + '\\"""\n' * (N // 5),
    "many keys": "".join(f"k{i} = 1\n" for i in range(80_000)),
    "many pumps": HEAD + "[[pump]]\n" * 100_000,
    "many lines": HEAD + "".join(f"[lines.a{i}]\n" for i in range(60_000)),
    "many rates": f"{HEAD}[spreading]\nrates = [" + '"1 lb/mile",' * 80_000 + "]",
}


def main() -> None:
    """Print the best of three times for each text."""
    for name, text in TEXTS.items():
        times = []
        for _ in range(3):
            start = time.perf_counter()
            with suppress(HydrocheckError):
                truck_from_text(text)
            times.append(time.perf_counter() - start)
        print(f"{name:34}{len(text):>9} characters{min(times) * 1e3:>9.1f} ms")


if __name__ == "__main__":
    main()
