#!/usr/bin/env python3
"""Packs the crates that can be published, as `cargo publish` would, and checks that they build from their packages alone: outside of the
repository, with one another in the place of a registry. Third-party crates come from what was fetched; nothing is uploaded."""

import json
import os
import re
import subprocess
import sys
import tarfile
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def main() -> int:
    metadata = json.loads(cargo("metadata", "--format-version", "1", "--no-deps", "--offline"))
    packages = [package for package in metadata["packages"] if package["publish"] is None]
    chosen = [word for package in packages for word in ("-p", package["name"])]
    cargo("package", "--no-verify", "--offline", "--allow-dirty", *chosen)
    made = Path(metadata["target_directory"]) / "package"
    faults = [fault for package in packages for fault in faults_of(package)]
    with tempfile.TemporaryDirectory() as folder:
        for package in packages:
            with tarfile.open(made / f"{package['name']}-{package['version']}.crate") as archive:
                archive.extractall(folder, filter="data")
        folders = {package["name"]: f"{package['name']}-{package['version']}" for package in packages}
        for name, unpacked in folders.items():
            held = {path.name for path in Path(folder, unpacked).iterdir()}
            wanted = {"LICENSE-APACHE", "LICENSE-MIT", "README.md", "Cargo.toml", "src", *NEEDED.get(name, ())}
            faults += [f"{name}: the package has no {missing}" for missing in sorted(wanted - held)]
        Path(folder, "Cargo.toml").write_text(workspace(folders), encoding="utf-8")
        Path(folder, "Cargo.lock").write_text((ROOT / "Cargo.lock").read_text(encoding="utf-8"), encoding="utf-8")
        if not faults:
            words = ("check", "--offline", "--quiet", "--message-format", "json", *chosen)
            said = [json.loads(line) for line in cargo(*words, folder=folder, target=metadata["target_directory"]).splitlines()]
            built = {Path(one["manifest_path"]).parent.name for one in said if one["reason"] == "compiler-artifact"}
            faults += [f"{name}: it was not built from its package" for name, unpacked in folders.items() if unpacked not in built]
    for fault in faults:
        print(fault, file=sys.stderr)
    if not faults:
        print(f"{len(packages)} crates build from their packages: {', '.join(sorted(folders))}")
    return 1 if faults else 0


# What else must be in a package: what its build script reads.
NEEDED = {"benchleaf-words": ("build.rs", "words")}


def cargo(*words: str, folder: str | Path = ROOT, target: str | None = None) -> str:
    environment = os.environ | ({"CARGO_TARGET_DIR": target} if target else {})
    ran = subprocess.run(["cargo", *words], cwd=folder, env=environment, capture_output=True, text=True)
    if ran.returncode != 0:
        sys.exit(f"cargo {' '.join(words)}:\n{ran.stderr}")
    return ran.stdout


def faults_of(package: dict) -> list[str]:
    """What the registry refuses, or nobody could use."""
    missing = [field for field in ("description", "license", "readme", "rust_version") if not package[field]]
    faults = [f"{package['name']}: its manifest has no {field}" for field in missing]
    for needed in package["dependencies"]:
        if needed["source"] is None and needed["kind"] != "dev" and needed["req"] == "*":
            faults.append(f"{package['name']}: its dependency {needed['name']} has no version")
    return faults


def workspace(folders: dict[str, str]) -> str:
    """A workspace of the packages, with the repository's profile so that what was built for it is of use."""
    profile = re.search(r"\[profile\.dev\]\n[^\[]*", (ROOT / "Cargo.toml").read_text(encoding="utf-8"))
    members = json.dumps(list(folders.values()))
    patches = "\n".join(f'{name} = {{ path = "{folder}" }}' for name, folder in folders.items())
    return f'[workspace]\nresolver = "3"\nmembers = {members}\n\n[patch.crates-io]\n{patches}\n\n{profile[0] if profile else ""}'


if __name__ == "__main__":
    sys.exit(main())
