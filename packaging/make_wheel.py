# SPDX-License-Identifier: MIT
"""Makes a wheel of the Python package that was built, with the libraries that its extension module needs, so that it runs where none of
them is installed.

    make_wheel.py PACKAGE FOLDER     writes a wheel of the built package, BUILD/python/arris, into FOLDER, under a name that says which Linux
                                     takes it

What every Linux has stays outside: the C library, the C++ library and what belongs to them. All else goes into ``arris.libs``, under names
with a sum of their bytes, so that they meet no other copy in the same process, with the text of their licences. The name of the wheel tells
the oldest C library that has all symbols which are used (PEP 600). Needs patchelf, and setuptools and wheel of Python.
"""

import hashlib
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

SOURCE = pathlib.Path(__file__).resolve().parent.parent
# PEP 600 and its list of libraries that may be taken for granted
EVERYWHERE = re.compile(r"(ld-linux-x86-64|ld-linux-aarch64|libc|libm|libdl|librt|libpthread|libstdc\+\+|libgcc_s)\.so\.\d+$")
LIBRARIES = "arris.libs"


def said(*words):
    return subprocess.run([str(word) for word in words], check=True, capture_output=True, text=True).stdout


def needed(file):
    """Names of the libraries that a file asks for itself."""
    return [name for name in said("patchelf", "--print-needed", file).split() if not EVERYWHERE.match(name)]


def places(file):
    """Where the loader finds each library that a file needs, itself or through others."""
    found = dict(re.findall(r"(\S+) => (/\S+)", said("ldd", file)))
    missing = re.findall(r"(\S+) => not found", said("ldd", file))
    if missing:
        raise SystemExit(f"make_wheel: {file} needs {', '.join(missing)}, which this machine does not have")
    return {name: pathlib.Path(place).resolve() for name, place in found.items() if not EVERYWHERE.match(name)}


def own_name(name, place):
    stem, rest = name.split(".so", 1)
    return f"{stem}-{hashlib.sha256(place.read_bytes()).hexdigest()[:8]}.so{rest}"


def copy_licence(place, folder):
    """What the Debian package of a library says of its licence."""
    for path in (place, pathlib.Path(str(place).removeprefix("/usr"))):  # /lib is /usr/lib, and dpkg knows one of them
        done = subprocess.run(["dpkg-query", "-S", path], capture_output=True, text=True, check=False)
        if done.returncode == 0:
            package = done.stdout.split(":")[0]
            folder.mkdir(exist_ok=True)
            shutil.copy(f"/usr/share/doc/{package}/copyright", folder / f"{package}.txt")
            return
    raise SystemExit(f"make_wheel: {place} is of no Debian package, and its licence is not known")


def narrow_numpy(metadata, built):
    """The wheel asks for the numpy that CMake found the module to take: pybind11 of before 2.12 gets arrays of numpy 2 wrong."""
    (asked,) = re.findall(r"^Requires-Dist: numpy (\S+)$", built.read_text(), re.M)
    text, count = re.subn(r"^Requires-Dist: numpy .*$", f"Requires-Dist: numpy ({asked})", metadata.read_text(), flags=re.M)
    if count != 1:
        raise SystemExit(f"make_wheel: {metadata} does not ask for numpy in one line")
    metadata.write_text(text)


def carry(root, module):
    """Copies libraries beside the package and points the module and each other at the copies; all files that were made or changed."""
    libraries = root / LIBRARIES
    libraries.mkdir()
    at = places(module)
    names = {name: own_name(name, place) for name, place in at.items()}
    for name, place in at.items():
        copy = libraries / names[name]
        shutil.copy(place, copy)
        copy.chmod(0o755)
        copy_licence(place, libraries / "licences")
        said("patchelf", "--set-soname", names[name], "--force-rpath", "--set-rpath", "$ORIGIN", copy)
        for other in needed(copy):
            said("patchelf", "--replace-needed", other, names[other], copy)
    said("patchelf", "--force-rpath", "--set-rpath", f"$ORIGIN/../{LIBRARIES}", module)
    for name in needed(module):
        said("patchelf", "--replace-needed", name, names[name], module)
    return [module, *(libraries / name for name in names.values())]


def oldest_c_library(files):
    """The newest version of a symbol of the C library that any of the files asks for: (2, 36)."""
    versions = [tuple(map(int, v)) for file in files for v in re.findall(r"GLIBC_(\d+)\.(\d+)", said("readelf", "--version-info", "--wide", file))]
    return max(versions)


def plain_wheel(package, folder):
    """A wheel as setup.py makes it; nothing is left in the sources."""
    words = ["egg_info", "--egg-base", folder, "build", "--build-base", folder / "build", "bdist_wheel", "--bdist-dir", folder / "bdist"]
    environment = {**os.environ, "ARRIS_BUILT_PACKAGE": str(package.resolve())}
    words = [sys.executable, "-B", "setup.py", "-q", *words, "-d", folder / "plain"]
    subprocess.run([str(word) for word in words], check=True, cwd=SOURCE, env=environment)
    (wheel,) = (folder / "plain").glob("*.whl")
    return wheel


def main(package, out):
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        said(sys.executable, "-m", "wheel", "unpack", "--dest", folder / "unpacked", plain_wheel(package, folder))
        (root,) = (folder / "unpacked").iterdir()
        (module,) = root.glob("arris/_core.*.so")
        said("strip", "--strip-unneeded", module)  # first: strip spoils what patchelf has moved
        major, minor = oldest_c_library(carry(root, module))
        (metadata,) = root.glob("*.dist-info/METADATA")
        narrow_numpy(metadata, package.parent.parent / "generated/dist-info/METADATA")
        (facts,) = root.glob("*.dist-info/WHEEL")
        facts.write_text(re.sub(r"-linux_", f"-manylinux_{major}_{minor}_", facts.read_text()))
        out.mkdir(parents=True, exist_ok=True)
        said(sys.executable, "-m", "wheel", "pack", "--dest-dir", out, root)


if __name__ == "__main__":
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    main(pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2]))
