#!/usr/bin/env python3
"""Checks every crate that Benchleaf is built from: its licence is one that we accept, and it comes from crates.io or
from this repository. Reads what `cargo metadata` says; needs no network once the sources are fetched."""

import json
import re
import subprocess
import sys

# Permissive licences, which ask for a notice at most.
ACCEPTED = {
    "0BSD",
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "BSL-1.0",
    "CC0-1.0",
    "ISC",
    "MIT",
    "MIT-0",
    "Unicode-3.0",
    "Unlicense",
    "Zlib",
}
# The Mozilla licence asks that changes to the crate's own files are published; we change none.
ACCEPTED_UNCHANGED = {"MPL-2.0"}
SOURCE = "registry+https://github.com/rust-lang/crates.io-index"


def main() -> int:
    command = ["cargo", "metadata", "--locked", "--format-version", "1", "--all-features"]
    packages = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)["packages"]
    faults = [fault for package in packages for fault in faults_of(package)]
    for fault in sorted(faults):
        print(fault, file=sys.stderr)
    if not faults:
        print(f"{len(packages)} crates: every licence is accepted, every source is crates.io or this repository")
    return 1 if faults else 0


def faults_of(package: dict) -> list[str]:
    called = f"{package['name']} {package['version']}"
    faults = []
    if not accepted(package["license"] or ""):
        faults.append(f"{called}: the licence `{package['license']}` is not one that we accept")
    if package["source"] not in (None, SOURCE):
        faults.append(f"{called}: comes from {package['source']}")
    return faults


def accepted(expression: str) -> bool:
    """Whether a licence expression (SPDX, with the older `/` for OR) can be met by accepted licences alone."""
    tokens = re.findall(r"[()]|[^\s()]+", expression.replace("/", " OR ").replace(" WITH ", "\0WITH\0"))
    tokens = [token.replace("\0", " ") for token in tokens]

    def one_of() -> bool:
        holds = all_of()
        while tokens and tokens[0] == "OR":
            tokens.pop(0)
            holds = all_of() or holds
        return holds

    def all_of() -> bool:
        holds = term()
        while tokens and tokens[0] == "AND":
            tokens.pop(0)
            holds = term() and holds
        return holds

    def term() -> bool:
        if not tokens:
            return False
        token = tokens.pop(0)
        if token != "(":
            return token in ACCEPTED or token in ACCEPTED_UNCHANGED
        holds = one_of()
        return bool(tokens) and tokens.pop(0) == ")" and holds

    return one_of() and not tokens


def test_expressions() -> None:
    for expression, wanted in {
        "MIT": True,
        "MIT/Apache-2.0": True,
        "GPL-3.0 OR MIT": True,
        "GPL-3.0": False,
        "MIT AND GPL-3.0": False,
        "(MIT OR GPL-3.0) AND Unicode-3.0": True,
        "(MIT AND GPL-3.0) OR (Zlib AND GPL-3.0)": False,
        "Apache-2.0 WITH LLVM-exception": True,
        "MIT)": False,
        "": False,
    }.items():
        assert accepted(expression) == wanted, expression


if __name__ == "__main__":
    test_expressions()
    sys.exit(main())
