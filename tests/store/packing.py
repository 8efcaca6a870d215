"""Taking a bundle apart and packing it again, honestly or with a trap in it, with nothing but the standard library."""

from __future__ import annotations

import hashlib
import io
import tomllib
import zipfile
from collections.abc import Mapping
from pathlib import Path

import tomli_w

from tests.store.samples import add_full, open_at
from wringout import store as kept


def exported(store: kept.Store, study: kept.Study) -> bytes:
    with store.reading() as view:
        stream = io.BytesIO()
        kept.write_bundle(view, study, stream)
    return stream.getvalue()


def full_bundle(folder: Path) -> bytes:
    """Return the bundle of a study that uses everything."""
    with open_at(folder / "source.db") as store:
        return exported(store, add_full(store))


def unpacked(data: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def packed(
    files: Mapping[str, bytes] | list[tuple[str | zipfile.ZipInfo, bytes]], method: int = zipfile.ZIP_DEFLATED
) -> bytes:
    stream = io.BytesIO()
    entries = list(files.items()) if isinstance(files, Mapping) else files
    with zipfile.ZipFile(stream, "w", method) as archive:
        for name, data in entries:
            archive.writestr(name, data)
    return stream.getvalue()


def listed(files: Mapping[str, bytes], manifest: Mapping[str, object] | None = None) -> dict[str, bytes]:
    """Return files with a manifest that lists them truthfully."""
    head = dict(tomllib.loads(files["bundle.toml"].decode()) if manifest is None else manifest)
    rest = {name: data for name, data in files.items() if name != "bundle.toml"}
    head["files"] = [
        {"path": name, "sha256": hashlib.sha256(data).hexdigest(), "size_bytes": len(data)}
        for name, data in sorted(rest.items())
    ]
    return {"bundle.toml": tomli_w.dumps(head).encode(), **rest}


def taken_in(store: kept.Store, data: bytes, name: str = "study.zip") -> kept.ImportedBundle:
    return kept.import_bundle(store, io.BytesIO(data), name)
