"""Tags of many files, kept by content as well."""

from __future__ import annotations

import json
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict
from pathlib import Path

from profiler.frames.cache import MeasureCache, tags_from_dict
from profiler.records import FrameTags


def read_all_tags(paths: Sequence[Path], cache: MeasureCache) -> list[FrameTags]:
    """Return the tags of each file, from the cache where its content is known.

    Those of a file are read while the contents of the next are.
    """
    out = []
    with ThreadPoolExecutor(2) as pool:
        for path, digest in zip(paths, cache.sha256_many(paths, pool), strict=True):
            text = cache.text(f"tags/{digest}")
            if text is None:
                from profiler.frames.tags import read_tags

                tags = read_tags(path)
                cache.keep_text(f"tags/{digest}", json.dumps(asdict(tags)))
            else:
                tags = tags_from_dict(json.loads(text))
            out.append(tags)
    return out
