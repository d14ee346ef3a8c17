#!/usr/bin/env python3
"""What a program is made of, from cargo's own account of it.

    parts.py TARGET bill        CycloneDX 1.5 (ECMA-424) as JSON on standard output
    parts.py TARGET licences    every part with its licence, and the text of each licence once

Parts are the packages that are linked for TARGET, not those that only build or test it, and what comes
with the compiler. The text of a licence is the one its package ships. Exits with 1 where a package names
no licence.
"""

import hashlib
import json
import pathlib
import subprocess
import sys

# What comes without a package: what it is, its licence, and where that stands.
BESIDE = [
    ("Rust standard library", "MIT OR Apache-2.0", "https://github.com/rust-lang/rust"),
    ("SQLite (built in by libsqlite3-sys)", "blessing", "https://www.sqlite.org/copyright.html"),
    ("DejaVu Sans (letters of pictures and accounts)", "Bitstream-Vera", "https://dejavu-fonts.github.io"),
]
WINDOWS = ("MinGW-w64 runtime", "ZPL-2.1", "https://www.mingw-w64.org")
GCC = ("GCC runtime", "GPL-3.0-or-later WITH GCC-exception-3.1", "https://gcc.gnu.org")


def metadata(target):
    command = ["cargo", "metadata", "--locked", "--format-version", "1", "--filter-platform", target]
    return json.loads(subprocess.run(command, check=True, stdout=subprocess.PIPE).stdout)


def linked(about):
    """Ids of the packages that are linked, the program's own first."""
    nodes = {node["id"]: node for node in about["resolve"]["nodes"]}
    macros = {
        package["id"]
        for package in about["packages"]
        if any("proc-macro" in kind["kind"] for kind in package["targets"])
    }
    found, waiting = [], [about["resolve"]["root"]]
    while waiting:
        package = waiting.pop()
        if package in found or package in macros:
            continue
        found.append(package)
        for edge in nodes[package]["deps"]:
            if any(kind["kind"] is None for kind in edge["dep_kinds"]):
                waiting.append(edge["pkg"])
    packages = {package["id"]: package for package in about["packages"]}
    root, others = packages[found[0]], [packages[package] for package in found[1:]]
    return root, sorted(others, key=lambda package: (package["name"], package["version"]))


def checksums():
    """Of packages, as Cargo.lock has them."""
    found, name = {}, None
    for line in pathlib.Path("Cargo.lock").read_text().splitlines():
        key, _, value = line.partition(" = ")
        value = value.strip('"')
        if key == "name":
            name = value
        elif key == "version":
            name = (name, value)
        elif key == "checksum":
            found[name] = value
    return found


def licence(package):
    named = (package["license"] or "").replace("/", " OR ").replace(" OR  OR ", " OR ")
    if not named:
        sys.exit(f"{package['name']}: names no licence")
    return named


def component(package, sums):
    purl = f"pkg:cargo/{package['name']}@{package['version']}"
    told = {
        "type": "library",
        "bom-ref": purl,
        "name": package["name"],
        "version": package["version"],
        "purl": purl,
        "licenses": [{"expression": licence(package)}],
    }
    checksum = sums.get((package["name"], package["version"]))
    if checksum:
        told["hashes"] = [{"alg": "SHA-256", "content": checksum}]
    return told


def beside(target):
    return BESIDE + ([WINDOWS] if "windows" in target else []) + [GCC]


def bill(target):
    root, others = linked(metadata(target))
    sums = checksums()
    extra = [
        {
            "type": "library",
            "bom-ref": name,
            "name": name,
            "licenses": [{"expression": terms} if terms != "blessing" else {"license": {"id": terms}}],
            "externalReferences": [{"type": "website", "url": address}],
        }
        for name, terms, address in beside(target)
    ]
    ours = component(root, sums) | {"type": "application"}
    told = {
        "bomFormat": "CycloneDX",
        "specVersion": "1.5",
        "version": 1,
        "metadata": {"component": ours, "properties": [{"name": "target", "value": target}]},
        "components": [component(package, sums) for package in others] + extra,
    }
    print(json.dumps(told, indent=1))


def texts(package):
    folder = pathlib.Path(package["manifest_path"]).parent
    names = ("licen", "copying", "unlicense", "notice", "copyright")
    files = [file for file in folder.iterdir() if file.is_file() and file.name.lower().startswith(names)]
    return {
        file.name: file.read_text(errors="replace").replace("\r\n", "\n").strip()
        for file in sorted(files)
    }


def licences(target):
    root, others = linked(metadata(target))
    print(f"{root['name']} {root['version']} is under the MIT licence, which stands below. It is made with:\n")
    shipped = {}
    fonts = {file.name: file.read_text().strip() for file in sorted(pathlib.Path("src").rglob("LICENSE*"))}
    for package in [root] + others:
        own = texts(package) | (fonts if package is root else {})
        for text in own.values():
            same = hashlib.sha256(" ".join(text.split()).encode()).hexdigest()
            shipped.setdefault(same, (text, []))[1].append(package["name"])
        where = package.get("repository") or f"pkg:cargo/{package['name']}@{package['version']}"
        without = "" if own else " (ships no text of its own; the usual text stands below)"
        if package is not root:
            print(f"{package['name']} {package['version']}: {licence(package)}{without}\n    {where}")
    for name, terms, address in beside(target):
        print(f"{name}: {terms}\n    {address}")
    for text, names in shipped.values():
        print("\n" + "-" * 78 + f"\nOf {', '.join(sorted(set(names)))}:\n\n{text}")


if __name__ == "__main__":
    if len(sys.argv) != 3 or sys.argv[2] not in ("bill", "licences"):
        sys.exit(__doc__)
    {"bill": bill, "licences": licences}[sys.argv[2]](sys.argv[1])
