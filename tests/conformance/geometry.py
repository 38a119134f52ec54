"""Recomputes geometry and coverage with SciPy and Shapely.

    cargo run -p etui-craft --example geometry > target/geometry.json
    python tests/conformance/geometry.py target/geometry.json

Agreement wanted: 1e-6 on 200 configurations (hull, nearest gap, band, union of
discs, coverage, repeat hits). Discs are polygons to Shapely; the union is
extrapolated from two resolutions, whose error falls with the square.
"""

import json
import sys

import numpy as np
from scipy.spatial import ConvexHull, QhullError
from scipy.spatial.distance import pdist
from scipy.stats import poisson
from shapely.geometry import MultiPoint, Point
from shapely.ops import unary_union


def hull_area(points, radius):
    """Steiner's formula on SciPy's hull; lines and points by hand."""
    if len(points) == 1:
        area, around = 0.0, 0.0
    else:
        try:
            hull = ConvexHull(points)
            area, around = hull.volume, hull.area
        except QhullError:
            area, around = 0.0, 2.0 * pdist(points).max()
    return area + around * radius + np.pi * radius**2


def union_area(discs, resolution):
    return unary_union([Point(x, y).buffer(r, quad_segs=resolution) for x, y, r in discs]).area


def main(path):
    worst = {}

    def compare(what, name, found, want):
        off = abs(found - want)
        if worst.get(what, (-1.0, ""))[0] < off:
            worst[what] = (off, name)

    for one in json.load(open(path, encoding="utf-8")):
        name = one["configuration"]
        points = np.array(one["tips"])
        radius = one["diameter_mm"] / 2
        compare("hull", name, one["hull_mm2"], hull_area(points, radius))
        compare("footprint", name, one["footprint_mm2"], hull_area(points, radius))
        shapely = MultiPoint(points).convex_hull
        steiner = shapely.area + np.pi * radius**2
        steiner += (shapely.length if shapely.geom_type == "Polygon" else 2 * shapely.length) * radius
        compare("hull by shapely", name, one["hull_mm2"], steiner)
        if one["nearest_gap_mm"] is not None:
            compare("nearest", name, one["nearest_gap_mm"], pdist(points).min())
        coarse, fine = union_area(one["discs"], 512), union_area(one["discs"], 1024)
        compare("union", name, one["union_mm2"], fine + (fine - coarse) / 3)
        mean = one["punctures_per_mm2"] * one["hole_area_mm2"]
        compare("coverage", name, one["coverage"], poisson.sf(0, mean))
        compare("repeat hits", name, one["repeat_hits"], poisson.sf(1, mean))
    for what, (off, name) in worst.items():
        print(f"{what:16} largest difference {off:.2e} ({name})")
    return 0 if all(off < 1e-6 for off, _ in worst.values()) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
