# SPDX-License-Identifier: MIT
"""The container recipe, carried out in a root of debootstrap; in the same root, in which nothing of what arris is built with stands, the wheel.

The first stage of the recipe is a cold build: ./dev container carries it out too. Here the packages of the build at hand stand in its place.
"""

import os
import pathlib
import shutil
import subprocess

import containerfile
import pytest
from wheels import BUILD, SOURCE, made_wheel

RECIPE = SOURCE / "cmake/Containerfile"
BOATYARD = SOURCE / "configs/boatyard"
NEEDS = "python3-venv python3-numpy python3-pandas python3-xarray python3-h5py python3-h5netcdf"


def test_the_recipe_has_only_steps_that_are_tried():
    stages = containerfile.read(RECIPE.read_text(encoding="utf-8"))
    assert [stage.base in containerfile.SUITES for stage in stages] == [True, True]
    words = {word for stage in stages for word, _ in stage.steps}
    assert words == {"WORKDIR", "COPY", "RUN", "USER", "ENTRYPOINT"}


def test_what_was_built_does_not_go_along(tmp_path):
    for name in ("build", "build-threads", "sim"):
        (tmp_path / name).mkdir()
    shutil.copy(SOURCE / ".containerignore", tmp_path)
    assert sorted(containerfile.ignored(tmp_path)) == ["build", "build-threads"]


@pytest.fixture(scope="module")
def container():
    """What a container would begin with, and how its entry point is run."""
    if os.geteuid() != 0 or shutil.which("debootstrap") is None:
        pytest.skip("no root or no debootstrap: the recipe was not tried")
    if subprocess.run(["unshare", "--mount", "--pid", "--fork", "--net", "true"], check=False, capture_output=True).returncode != 0:
        pytest.skip("no namespaces here: the recipe was not tried")
    folder = BUILD / "container"
    packages = folder / "given/source/build/packages"
    shutil.rmtree(packages, ignore_errors=True)
    packages.mkdir(parents=True)
    words = ["cpack", "--config", BUILD / "CPackConfig.cmake", "-D", "CPACK_COMPONENTS_ALL=runtime", "-D", f"CPACK_PACKAGE_DIRECTORY={packages}", "-B", packages]
    done = subprocess.run([str(word) for word in words], check=False, capture_output=True, text=True, cwd=BUILD)
    assert done.returncode == 0, done.stdout + done.stderr
    try:
        containerfile.build(RECIPE, SOURCE, folder, given={"build": folder / "given"})
    except subprocess.CalledProcessError as error:
        if error.cmd[0] == "debootstrap":
            pytest.skip("debootstrap reaches no Debian mirror: the recipe was not tried")
        raise
    return folder


@pytest.fixture
def desk(tmp_path):
    """A folder of somebody who is not root."""
    folder = tmp_path / "desk"
    shutil.copytree(BOATYARD, folder)
    for path in (folder, *folder.iterdir()):
        os.chown(path, 1000, 1000)
    tmp_path.chmod(0o755)
    return folder


def test_the_program_runs_without_a_network_and_writes_for_who_asks(container, desk):
    simulate = ["simulate", "boatyard.toml", "--quiet"]
    # nobody reads, and cannot write
    assert containerfile.run(container, simulate, volume=desk) == 0
    assert containerfile.run(container, [*simulate, "--csv", "x.csv"], volume=desk) != 0
    assert not (desk / "x.csv").exists()
    # whoever owns the folder can
    assert containerfile.run(container, [*simulate, "--csv", "x.csv", "--out", "x.h5"], volume=desk, user="1000:1000") == 0
    subprocess.run([BUILD / "arris", *simulate, "--csv", "y.csv"], check=True, cwd=desk)
    assert (desk / "x.csv").read_bytes() == (desk / "y.csv").read_bytes()
    assert containerfile.run(container, ["report", "x.h5", "--figure", "section", "-o", "x.png"], volume=desk, user="1000:1000") == 0
    assert (desk / "x.png").stat().st_size > 20_000  # with letters


def test_a_wheel_runs_in_a_fresh_environment(container, tmp_path_factory):
    if not (BUILD / "python/arris").exists() or shutil.which("patchelf") is None:
        pytest.skip("built without Python, or there is no patchelf")
    root = container / containerfile.FINAL
    wheel = made_wheel(tmp_path_factory.mktemp("wheel"))
    yard = pathlib.Path(f"{root}/tmp/yard")
    shutil.rmtree(yard, ignore_errors=True)
    shutil.copytree(BOATYARD, yard)
    shutil.copy(wheel, f"{root}/tmp")
    as_root = containerfile.Setting()
    install = ["sh", "-c", f"apt-get update -qq && apt-get install -qq -y --no-install-recommends {NEEDS} >/dev/null"]
    assert containerfile.run_in(root, as_root, install, network=True).returncode == 0
    # arris itself and all that it is built with: gone
    assert containerfile.run_in(root, as_root, ["sh", "-c", "apt-get purge -qq -y arris && apt-get autoremove -qq -y --purge"], network=False).returncode == 0
    assert not [name for name in ("libtbb", "libfmt", "libmuparser", "libzip") if list(root.glob(f"usr/lib/*/{name}.so*"))]
    script = f"""
set -e
python3 -m venv --clear --system-site-packages /tmp/fresh
/tmp/fresh/bin/pip -q install --no-index --no-deps /tmp/{wheel.name}
cd /tmp/yard
/tmp/fresh/bin/python - <<'END'
import importlib.metadata, arris
yard = arris.load("boatyard.toml")
assert len(arris.simulate(yard).to_pandas("edges")) > 5
assert arris.fit(yard, free=["tester.slope_N_per_um"], starts=1).converged
assert importlib.metadata.version("arris") == arris.__version__
END
"""
    assert containerfile.run_in(root, as_root, ["sh", "-c", script], network=False).returncode == 0
