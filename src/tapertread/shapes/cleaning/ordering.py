"""Putting the points of an outline into the order of the curve, however a file holds them.

An order that already follows the curve is kept. Otherwise the shortest tree through all points is
grown; its longest path is the curve, and points on its short side twigs are placed where they stand
along it. Nothing here asks for ``z(y)``: flange backs, lips and overhangs are ordinary.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order, dijkstra, minimum_spanning_tree
from scipy.spatial import Delaunay, KDTree, QhullError

from tapertread.errors import OutlineRefused
from tapertread.shapes.outline import Floats

Order = NDArray[np.intp]

STRANGERS = 0.08
"""Share of points whose nearest neighbour may be far off in the file: a curve that meets itself."""

FAR_STEP_MM = 3.0
"""A step longer than this may be a gap or a wrong order; only the tree can tell."""


def unique_points(points: Floats) -> tuple[Floats, int]:
    """Return the points (n, 2) without exact duplicates, their order kept, and how many went."""
    keys = np.ascontiguousarray(points).view(np.complex128).ravel()
    first = np.unique(keys, return_index=True)[1]
    return points[np.sort(first)], int(points.shape[0] - first.size)


def curve_order(points: Floats) -> Order:
    """Return the order in which points (n, 2; mm) follow their curve, from either end.

    Raises
    ------
    OutlineRefused
        If all points lie on one straight line, so that they show no profile.
    """
    if follows_curve(points):
        return np.arange(points.shape[0])
    return _tree_order(points)


def follows_curve(points: Floats) -> bool:
    """Say whether points (n, 2) already stand in curve order: near neighbours near in the file."""
    step = np.hypot(*np.diff(points, axis=0).T)
    if step.max() > FAR_STEP_MM:
        return False
    near = np.asarray(KDTree(points).query(points, k=2)[1])[:, 1]
    apart = np.abs(near - np.arange(points.shape[0]))
    return bool(np.mean(apart > 4) < STRANGERS)


def _tree_order(points: Floats) -> Order:
    tree = _shortest_tree(points)
    start = int(np.argmax(dijkstra(tree, directed=False, indices=[0])[0]))
    reach, before = dijkstra(tree, directed=False, indices=[start], return_predecessors=True)
    spine = [int(np.argmax(reach[0]))]
    while spine[-1] != start:
        spine.append(int(before[0, spine[-1]]))
    return np.argsort(_places(points, tree=tree, spine=np.array(spine[::-1])), kind="stable")


def _shortest_tree(points: Floats) -> csr_array:
    """Return the minimum spanning tree, which lies within the Delaunay triangulation."""
    try:
        corners = Delaunay(points).simplices
    except QhullError:
        raise OutlineRefused(
            "straight-line",
            "points that all lie on one straight line",
            allowed="the outline of a wheel or a rail",
            todo="check that the columns chosen are y and z",
        ) from None
    edges = np.vstack([corners[:, [0, 1]], corners[:, [1, 2]], corners[:, [2, 0]]])
    edges = np.unique(np.sort(edges, axis=1), axis=0)
    length = np.hypot(*(points[edges[:, 0]] - points[edges[:, 1]]).T)
    size = points.shape[0]
    graph = csr_array((length, (edges[:, 0], edges[:, 1])), shape=(size, size))
    return csr_array(minimum_spanning_tree(graph))


def _places(points: Floats, *, tree: csr_array, spine: Order) -> Floats:
    """Return each point's place along the spine: its own, or that of its twig's foot moved on."""
    along = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(points[spine], axis=0).T))))
    place = np.full(points.shape[0], np.nan)
    place[spine] = along
    order, before = breadth_first_order(tree, int(spine[0]), directed=False)
    foot = np.arange(points.shape[0])
    for node in order[np.isnan(place[order])]:
        foot[node] = foot[before[node]]
    twigs = np.flatnonzero(np.isnan(place))
    at = np.searchsorted(along, place[foot[twigs]])
    ahead = points[spine[np.minimum(at + 2, spine.size - 1)]]
    tangent = ahead - points[spine[np.maximum(at - 2, 0)]]
    tangent /= np.maximum(np.hypot(*tangent.T), 1e-12)[:, None]
    beyond = np.einsum("ij,ij->i", points[twigs] - points[foot[twigs]], tangent)
    place[twigs] = place[foot[twigs]] + beyond
    return place
