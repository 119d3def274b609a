"""Fits on disk: a few kilobytes a person and microphone, and the model folder that comes of one."""

import os
import tempfile
import zipfile
from collections.abc import Mapping
from hashlib import sha256
from pathlib import Path
from shutil import copyfile

import numpy as np

from speech.fitting.model_file import with_biases
from speech.places import cache_folder, keep_newest, made_folder

NETWORK, SETTINGS = "am/final.mdl", ("conf/mfcc.conf", "conf/model.conf")
KEPT_MODELS = 8
"""Model folders of people, 8.5 MB each; who has not been here for long gets theirs made again."""


def keep(file: Path, biases: Mapping[str, np.ndarray], *, model: Path, whose: str) -> None:
    """Write a fit to its file, which is whole or as it was.

    model: the folder it was fitted to. whose: name of the person it was fitted to. Raises OSError.
    """
    file.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    handle, fresh = tempfile.mkstemp(dir=file.parent, prefix=".fit-")
    try:
        with os.fdopen(handle, "wb") as out:
            np.savez(out, allow_pickle=False, network=np.array(_hash(model)), whose=np.array(whose), **dict(biases))
        os.replace(fresh, file)
    except BaseException:
        Path(fresh).unlink(missing_ok=True)
        raise


def fitted_model(file: Path, *, model: Path) -> Path | None:
    """The folder of the model with the fit of this file; None where there is none for this model, or it cannot be read."""
    try:
        with open(file, "rb") as opened, np.load(opened, allow_pickle=False) as kept:
            biases = {name: kept[name] for name in kept.files if name not in ("network", "whose")}
            if str(kept["network"]) != _hash(model):
                return None
        data = with_biases((model / NETWORK).read_bytes(), biases)
    except (OSError, ValueError, KeyError, zipfile.BadZipFile, EOFError):
        return None
    return model_folder(data, model=model)


def fitted_to(file: Path) -> str:
    """Name of the person a file was fitted to; "" where there is none, or it cannot be read."""
    try:
        with open(file, "rb") as opened, np.load(opened, allow_pickle=False) as kept:
            return str(kept["whose"])
    except (OSError, ValueError, KeyError, zipfile.BadZipFile, EOFError):
        return ""


def model_folder(network: bytes, *, model: Path, cache: Path | None = None) -> Path:
    """A model folder with another network, made where caches lie. Raises OSError."""

    def make(folder: Path) -> None:
        for part in SETTINGS:
            (folder / part).parent.mkdir(exist_ok=True)
            copyfile(model / part, folder / part)
        (folder / NETWORK).parent.mkdir()
        (folder / NETWORK).write_bytes(network)

    target = (cache or cache_folder("fitted")) / f"model-{sha256(network).hexdigest()[:16]}"
    made = made_folder(target, make)
    keep_newest(target.parent, "model-*", KEPT_MODELS)
    return made


def _hash(model: Path) -> str:
    return sha256((model / NETWORK).read_bytes()).hexdigest()
