/* The faces of a frame: the range of each face's corners in the list of indices. */
#ifndef MESHQC_FACES_H
#define MESHQC_FACES_H

#include "spans.h"

typedef struct {
    const int64_t *offsets;
    Py_ssize_t faces, corners;
} Faces;

/* The index of a face's first corner, and of its last corner plus 1; an empty range if its offsets are not valid. */
static inline void span_of(const Faces *of, Py_ssize_t face, Py_ssize_t *first, Py_ssize_t *last)
{
    int64_t start = of->offsets[face], stop = of->offsets[face + 1];
    int whole = start >= 0 && start <= stop && stop <= of->corners;
    *first = whole ? (Py_ssize_t)start : 0;
    *last = whole ? (Py_ssize_t)stop : 0;
}

/* Reads the faces from buffers of int64 offsets and int32 indices. Returns 0 and sets ValueError if they don't fit. */
static inline int faces_in(const Py_buffer *offsets, const Py_buffer *indices, Faces *of)
{
    *of = (Faces){offsets->buf, offsets->len / (Py_ssize_t)sizeof(int64_t) - 1,
                  indices->len / (Py_ssize_t)sizeof(int32_t)};
    if (!is_aligned(offsets, sizeof(int64_t)) || !is_aligned(indices, sizeof(int32_t)))
        return 0;
    if (of->faces >= 0 && of->faces <= INT32_MAX && of->corners <= INT32_MAX)
        return 1;
    PyErr_SetString(PyExc_ValueError, "no offsets, or too many faces or corners");
    return 0;
}

static inline int32_t lower_of(int32_t a, int32_t b) { return a < b ? a : b; }

static inline int32_t higher_of(int32_t a, int32_t b) { return a > b ? a : b; }

/* Replaces the count of each number by the index at which its first occurrence belongs. */
static inline void start_places(uint32_t *counts, Py_ssize_t length)
{
    uint32_t before = 0;
    for (Py_ssize_t at = 0; at < length; at++) {
        uint32_t count = counts[at];
        counts[at] = before;
        before += count;
    }
}

/* The root of a node. Each node on the path gets its grandparent, which is never higher, as its parent. */
static inline int32_t root_of(int32_t *parents, int32_t node)
{
    while (parents[node] != node) {
        parents[node] = parents[parents[node]];
        node = parents[node];
    }
    return node;
}

#endif
