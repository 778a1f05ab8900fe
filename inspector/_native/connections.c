/* Connections between corners, faces and vertices: the sides of each edge, connected components, neighbours. */
#include "faces.h"

#include <stdlib.h>

/* sort_sides(offsets, ends, side, face, edge, uses) -> (sides, edges)
 *
 * A counting sort, first by the higher end of each side, then by the lower end. It takes linear time for any mesh.
 */
PyObject *sort_sides(PyObject *module, PyObject *arguments)
{
    (void)module;
    Py_buffer offsets, given, out[4];
    if (!PyArg_ParseTuple(arguments, "y*y*w*w*w*w*:sort_sides", &offsets, &given, &out[0], &out[1], &out[2], &out[3]))
        return NULL;
    PyObject *result = NULL;
    int32_t *after = NULL, *owner = NULL;
    uint32_t *counts = NULL;
    Faces of;
    const int32_t *ends = given.buf;
    if (!faces_in(&offsets, &given, &of))
        goto release;
    for (int which = 0; which < 4; which++) {
        if (!is_aligned(&out[which], sizeof(int32_t)))
            goto release;
        if (out[which].len != given.len) {
            PyErr_SetString(PyExc_ValueError, "buffers of different lengths");
            goto release;
        }
    }
    int32_t *side = out[0].buf, *face = out[1].buf, *edge = out[2].buf, *uses = out[3].buf, highest = -1;
    for (Py_ssize_t at = 0; at < of.corners; at++)
        highest = higher_of(highest, ends[at]);
    Py_ssize_t points = (Py_ssize_t)highest + 1, sides = 0, edges = 0;
    after = malloc(((size_t)of.corners + 1) * sizeof *after);
    owner = malloc(((size_t)of.corners + 1) * sizeof *owner);
    counts = malloc(((size_t)points + 1) * sizeof *counts);
    if (after == NULL || owner == NULL || counts == NULL) {
        PyErr_NoMemory();
        goto release;
    }

    Py_BEGIN_ALLOW_THREADS
    memset(counts, 0, ((size_t)points + 1) * sizeof *counts);
    memset(after, 0xff, (size_t)of.corners * sizeof *after); /* -1: a corner without a face starts no side */
    for (Py_ssize_t which = 0; which < of.faces; which++) {
        Py_ssize_t first, last;
        span_of(&of, which, &first, &last);
        for (Py_ssize_t at = first; at < last; at++) {
            after[at] = ends[at + 1 < last ? at + 1 : first];
            owner[at] = (int32_t)which;
        }
    }
    for (Py_ssize_t at = 0; at < of.corners; at++)
        if (lower_of(ends[at], after[at]) >= 0)
            counts[higher_of(ends[at], after[at])]++;
    start_places(counts, points);
    for (Py_ssize_t at = 0; at < of.corners; at++)
        if (lower_of(ends[at], after[at]) >= 0) {
            uses[counts[higher_of(ends[at], after[at])]++] = (int32_t)at; /* sorted by their higher ends */
            sides++;
        }
    memset(counts, 0, ((size_t)points + 1) * sizeof *counts);
    for (Py_ssize_t at = 0; at < sides; at++)
        counts[lower_of(ends[uses[at]], after[uses[at]])]++;
    start_places(counts, points);
    for (Py_ssize_t at = 0; at < sides; at++)
        side[counts[lower_of(ends[uses[at]], after[uses[at]])]++] = uses[at];
    int32_t low = -1, high = -1;
    for (Py_ssize_t at = 0; at < sides; at++) {
        int32_t one = ends[side[at]], other = after[side[at]];
        if (lower_of(one, other) != low || higher_of(one, other) != high) {
            low = lower_of(one, other);
            high = higher_of(one, other);
            uses[edges++] = 0;
        }
        uses[edges - 1]++;
        edge[at] = (int32_t)(edges - 1);
        face[at] = owner[side[at]];
    }
    Py_END_ALLOW_THREADS

    result = Py_BuildValue("(nn)", sides, edges);
release:
    free(after);
    free(owner);
    free(counts);
    PyBuffer_Release(&offsets);
    PyBuffer_Release(&given);
    for (int which = 0; which < 4; which++)
        PyBuffer_Release(&out[which]);
    return result;
}

/* find_components(links, components) -> number of components */
PyObject *find_components(PyObject *module, PyObject *arguments)
{
    (void)module;
    Py_buffer links, components;
    if (!PyArg_ParseTuple(arguments, "y*w*:find_components", &links, &components))
        return NULL;
    PyObject *result = NULL;
    int32_t *parents = NULL, *component = components.buf;
    const int32_t *link = links.buf;
    Py_ssize_t nodes = components.len / (Py_ssize_t)sizeof *component, number = 0;
    Py_ssize_t pairs = links.len / (2 * (Py_ssize_t)sizeof *link);
    int outside = 0;
    if (!is_aligned(&links, sizeof *link) || !is_aligned(&components, sizeof *component))
        goto release;
    if (nodes > INT32_MAX) {
        PyErr_SetString(PyExc_ValueError, "too many nodes");
        goto release;
    }
    parents = malloc(((size_t)nodes + 1) * sizeof *parents);
    if (parents == NULL) {
        PyErr_NoMemory();
        goto release;
    }

    Py_BEGIN_ALLOW_THREADS
    for (Py_ssize_t at = 0; at < nodes; at++)
        parents[at] = (int32_t)at;
    for (Py_ssize_t at = 0; at < 2 * pairs; at++)
        outside |= link[at] < 0 || link[at] >= nodes;
    for (Py_ssize_t at = 0; at < pairs && !outside; at++) {
        int32_t one = root_of(parents, link[2 * at]), other = root_of(parents, link[2 * at + 1]);
        parents[higher_of(one, other)] = lower_of(one, other);
    }
    for (Py_ssize_t at = 0; at < nodes && !outside; at++) /* a parent is never higher, so it already has its number */
        component[at] = parents[at] == at ? (int32_t)number++ : component[parents[at]];
    Py_END_ALLOW_THREADS

    if (outside)
        PyErr_SetString(PyExc_IndexError, "a link refers to a node that does not exist");
    else
        result = PyLong_FromSsize_t(number);
release:
    free(parents);
    PyBuffer_Release(&links);
    PyBuffer_Release(&components);
    return result;
}

/* find_neighbours(offsets, v, beside) -> None */
PyObject *find_neighbours(PyObject *module, PyObject *arguments)
{
    (void)module;
    Py_buffer offsets, given, beside;
    if (!PyArg_ParseTuple(arguments, "y*y*w*:find_neighbours", &offsets, &given, &beside))
        return NULL;
    PyObject *result = NULL;
    Faces of;
    const int32_t *v = given.buf;
    int32_t *near = beside.buf;
    Py_ssize_t vertices = beside.len / (4 * (Py_ssize_t)sizeof *near);
    if (!faces_in(&offsets, &given, &of) || !is_aligned(&beside, sizeof *near))
        goto release;
    if (vertices > INT32_MAX) {
        PyErr_SetString(PyExc_ValueError, "too many vertices");
        goto release;
    }

    Py_BEGIN_ALLOW_THREADS
    for (Py_ssize_t at = 0; at < 4 * vertices; at++)
        near[at] = (int32_t)(at / 4);
    for (int backwards = 0; backwards < 2; backwards++) /* forwards, the last face is kept; backwards, the first */
        for (Py_ssize_t nth = 0; nth < of.faces; nth++) {
            Py_ssize_t first, last;
            span_of(&of, backwards ? of.faces - 1 - nth : nth, &first, &last);
            for (Py_ssize_t at = 0; at < last - first; at++) {
                Py_ssize_t corner = backwards ? last - 1 - at : first + at;
                int32_t start = v[corner], end = v[corner + 1 < last ? corner + 1 : first];
                if (start < 0 || start >= vertices || end < 0 || end >= vertices)
                    continue;
                near[4 * (Py_ssize_t)start + backwards] = end;
                near[4 * (Py_ssize_t)end + 2 + backwards] = start;
            }
        }
    Py_END_ALLOW_THREADS

    result = Py_NewRef(Py_None);
release:
    PyBuffer_Release(&offsets);
    PyBuffer_Release(&given);
    PyBuffer_Release(&beside);
    return result;
}
