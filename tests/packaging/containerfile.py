# SPDX-License-Identifier: MIT
"""Carries out the steps of a container recipe where no container engine runs: each stage is a root that debootstrap makes, each RUN a
process in it. A step that this file does not know is an error, so that the recipe has none that was not tried. As root only.

    containerfile.py build RECIPE CONTEXT FOLDER     carries out all stages; FOLDER/final is what a container would begin with
    containerfile.py run FOLDER [--volume DIR] [--user UID] [ARG...]     its entry point, without a network

Debian's packages come from where this machine's apt has them from.
"""

import dataclasses
import fnmatch
import glob
import json
import os
import pathlib
import shlex
import shutil
import subprocess
import sys

SUITES = {"debian:12-slim": "bookworm", "debian:12": "bookworm"}
FINAL = "final"


@dataclasses.dataclass
class Stage:
    """What stands between one FROM and the next."""

    base: str
    name: str
    steps: list[tuple[str, str]]


@dataclasses.dataclass
class Setting:
    """Where and as whom a process of a root runs."""

    workdir: str = "/"
    user: str = "root"
    environment: dict[str, str] = dataclasses.field(default_factory=dict)
    entrypoint: list[str] = dataclasses.field(default_factory=list)


def read(text):
    """The stages of a recipe. The last is called FINAL."""
    lines = [line for line in text.splitlines() if not line.lstrip().startswith("#")]
    stages = []
    for line in "\n".join(lines).replace("\\\n", " ").splitlines():
        if not line.strip():
            continue
        word, rest = line.split(None, 1)
        if word == "FROM":
            words = rest.split()
            stages.append(Stage(words[0], words[2] if words[1:2] == ["AS"] else "", []))
        else:
            stages[-1].steps.append((word, rest.strip()))
    stages[-1].name = FINAL
    return stages


def site():
    """Where apt of this machine has Debian from; nothing where that is no Debian of the recipe, and debootstrap knows by itself."""
    told = subprocess.run(["apt-get", "indextargets", "--format", "$(SITE) $(CODENAME)"], check=True, capture_output=True, text=True).stdout
    return [line.split()[0] for line in told.splitlines() if line.split()[-1:] and line.split()[-1] in SUITES.values()][:1]


def fresh_root(base, root):
    """A root as of the image ``base``, made once and then copied."""
    made = root.parent / f"base-{SUITES[base]}"
    if not made.exists():
        part = made.with_suffix(".part")
        shutil.rmtree(part, ignore_errors=True)
        subprocess.run(["debootstrap", "--variant=minbase", SUITES[base], part, *site()], check=True, stdout=sys.stderr)
        (part / "etc/dpkg/dpkg.cfg.d/unsafe-io").write_text("force-unsafe-io\n")  # as images of Debian have it: quick, and lost at a power cut
        part.rename(made)
    shutil.rmtree(root, ignore_errors=True)
    subprocess.run(["cp", "-a", "--reflink=auto", made, root], check=True)


def run_in(root, setting, words, network, volume=None):
    """A process in ``root``; its mounts and, without ``network``, its empty network end with it."""
    environment = {"PATH": "/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin", "HOME": "/", "DEBIAN_FRONTEND": "noninteractive"}
    mounts = f"mount -t proc proc {root}/proc && mount --rbind /dev {root}/dev"
    if volume is not None:
        mounts += f" && mount --bind {shlex.quote(str(volume))} {root}{setting.workdir}"
    inside = ["chroot", f"--userspec={setting.user}", root, "env", "-i", f"--chdir={setting.workdir}"]
    inside += [f"{key}={value}" for key, value in (environment | setting.environment).items()]
    command = " ".join(shlex.quote(str(word)) for word in [*inside, *words])
    space = ["unshare", "--mount", "--pid", "--fork", "--kill-child", *([] if network else ["--net"])]
    return subprocess.run([*space, "sh", "-c", f"{mounts} && exec {command}"], check=False, stdin=subprocess.DEVNULL)


def ignored(context):
    """Names at the top of the context that do not go along."""
    file = context / ".containerignore"
    patterns = [line.strip() for line in file.read_text().splitlines() if line.strip() and line[0] != "#"] if file.exists() else []
    for pattern in patterns:
        if "/" in pattern or pattern.startswith("!"):
            raise ValueError(f"{file}: {pattern} is no plain name")
    return [path.name for path in context.iterdir() if any(fnmatch.fnmatch(path.name, pattern) for pattern in patterns)]


def copy(rest, root, setting, context, roots):
    words = rest.split()
    source, left_out = context, ignored(context)
    if words[0].startswith("--from="):
        source, left_out = roots[words.pop(0).removeprefix("--from=")], []
    to = pathlib.Path(f"{root}/{os.path.join(setting.workdir, words[-1])}")
    for word in words[:-1]:
        found = glob.glob(f"{source}/{word.lstrip('/')}")
        if not found:
            raise FileNotFoundError(f"COPY {rest}: there is no {word}")
        for path in found:
            if pathlib.Path(path).is_dir():
                # as an engine does: what is in the folder, not the folder
                shutil.copytree(path, to, symlinks=True, dirs_exist_ok=True, ignore=lambda at, _, top=path: left_out if at == top else [])
            else:
                to.mkdir(parents=True, exist_ok=True)
                shutil.copy2(path, to)


def carry_out(stage, root, context, roots):
    """All steps of a stage, in a fresh root; how a process of it is run afterwards."""
    fresh_root(stage.base, root)
    setting = Setting()
    for word, rest in stage.steps:
        print(f"containerfile: {word} {rest}", file=sys.stderr, flush=True)
        if word == "WORKDIR":
            setting.workdir = os.path.join(setting.workdir, rest)
            pathlib.Path(f"{root}/{setting.workdir}").mkdir(parents=True, exist_ok=True)
        elif word == "USER":
            setting.user = rest
        elif word == "ENV":
            setting.environment |= dict(part.split("=", 1) for part in shlex.split(rest))
        elif word == "ENTRYPOINT":
            setting.entrypoint = json.loads(rest)
        elif word == "COPY":
            copy(rest, root, setting, context, roots)
        elif word == "RUN":
            done = run_in(root, setting, ["sh", "-c", rest], network=True)
            if done.returncode != 0:
                raise SystemExit(f"containerfile: RUN ended with {done.returncode}: {rest}")
        else:
            raise ValueError(f"{word} is a step that is not known here")
    return setting


def build(recipe, context, folder, given=None):
    """All stages, or without those whose root is ``given``; FINAL's root and how it is run stand in ``folder``."""
    folder.mkdir(parents=True, exist_ok=True)
    roots = dict(given or {})
    for stage in read(recipe.read_text(encoding="utf-8")):
        if stage.name in roots:
            continue
        root = folder / stage.name
        setting = carry_out(stage, root, context, roots)
        roots[stage.name] = root
        (folder / f"{stage.name}.json").write_text(json.dumps(dataclasses.asdict(setting)), encoding="utf-8")


def run(folder, arguments, volume=None, user=None):
    """The entry point of what was built, without a network, ``volume`` mounted where it works."""
    setting = Setting(**json.loads((folder / f"{FINAL}.json").read_text(encoding="utf-8")))
    if user is not None:
        setting.user = user
    return run_in(folder / FINAL, setting, [*setting.entrypoint, *arguments], network=False, volume=volume).returncode


def main(words):
    if words[:1] == ["build"] and len(words) == 4:
        build(*(pathlib.Path(word).resolve() for word in words[1:]))
        return 0
    if words[:1] == ["run"] and len(words) >= 2:
        folder, rest, options = pathlib.Path(words[1]).resolve(), words[2:], {}
        while rest[:1] in (["--volume"], ["--user"]):
            options[rest[0].removeprefix("--")] = rest[1]
            rest = rest[2:]
        return run(folder, rest, **options)
    print(__doc__, file=sys.stderr)
    return 2


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
