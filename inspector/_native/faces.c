/* What follows from the faces alone, without an array of all sides: how the faces are connected, which faces may be the
 * same, and a hash of all faces.
 */
#include "faces.h"

#include <stdlib.h>

/* A side in the list of its lower end. `high` is twice the higher end, plus 1 if the side starts at the higher end. */
typedef struct {
    uint32_t high;
    int32_t face;
} Side;

/* Longer lists are sorted with a heap. Most vertices have few sides, but the hub of a fan can have many. */
#define SHORT_LIST 24

static void sink(Side *sides, Py_ssize_t at, Py_ssize_t count)
{
    Side moved = sides[at];
    for (Py_ssize_t child; (child = 2 * at + 1) < count; at = child) {
        child += child + 1 < count && sides[child].high < sides[child + 1].high;
        if (sides[child].high <= moved.high)
            break;
        sides[at] = sides[child];
    }
    sides[at] = moved;
}

static void sort_list(Side *sides, Py_ssize_t count)
{
    if (count <= SHORT_LIST) {
        for (Py_ssize_t at = 1; at < count; at++) {
            Side moved = sides[at];
            Py_ssize_t place = at;
            for (; place > 0 && sides[place - 1].high > moved.high; place--)
                sides[place] = sides[place - 1];
            sides[place] = moved;
        }
        return;
    }
    for (Py_ssize_t at = count / 2 - 1; at >= 0; at--)
        sink(sides, at, count);
    for (Py_ssize_t last = count - 1; last > 0; last--) {
        Side largest = sides[0];
        sides[0] = sides[last];
        sides[last] = largest;
        sink(sides, 0, last);
    }
}

/* connect_faces(offsets, v, vertices) -> (components, boundary, non_manifold, opposed, unused) */
PyObject *connect_faces(PyObject *module, PyObject *arguments)
{
    (void)module;
    Py_buffer offsets, given;
    Py_ssize_t vertices;
    if (!PyArg_ParseTuple(arguments, "y*y*n:connect_faces", &offsets, &given, &vertices))
        return NULL;
    PyObject *result = NULL;
    Faces of;
    uint32_t *counts = NULL;
    uint8_t *used = NULL;
    int32_t *parents = NULL;
    Side *sides = NULL;
    if (!faces_in(&offsets, &given, &of))
        goto release;
    if (vertices < 0 || vertices > INT32_MAX) {
        PyErr_SetString(PyExc_ValueError, "too many vertices");
        goto release;
    }
    const int32_t *v = given.buf;
    counts = calloc((size_t)vertices + 1, sizeof *counts);
    used = calloc((size_t)vertices + 1, sizeof *used);
    parents = malloc(((size_t)of.faces + 1) * sizeof *parents);
    sides = malloc(((size_t)of.corners + 1) * sizeof *sides);
    if (counts == NULL || used == NULL || parents == NULL || sides == NULL) {
        PyErr_NoMemory();
        goto release;
    }
    int outside = 0; /* whether a corner refers to a vertex that does not exist, or faces share a corner */
    Py_ssize_t in_faces = 0, components = of.faces, boundary = 0, non_manifold = 0, opposed = 0, unused = vertices;

    Py_BEGIN_ALLOW_THREADS
    for (Py_ssize_t at = 0; at < of.corners; at++)
        outside |= v[at] >= vertices;
    for (Py_ssize_t at = 0; at < of.corners && !outside; at++)
        if (v[at] >= 0) {
            unused -= !used[v[at]];
            used[v[at]] = 1;
        }
    for (Py_ssize_t face = 0; face < of.faces && !outside; face++) {
        Py_ssize_t first, last;
        span_of(&of, face, &first, &last);
        in_faces += last - first;
        outside |= in_faces > of.corners;
        parents[face] = (int32_t)face;
        for (Py_ssize_t at = first; at < last; at++) {
            int32_t low = lower_of(v[at], v[at + 1 < last ? at + 1 : first]);
            if (low >= 0)
                counts[low]++;
        }
    }
    start_places(counts, outside ? 0 : vertices);
    for (Py_ssize_t face = 0; face < of.faces && !outside; face++) {
        Py_ssize_t first, last;
        span_of(&of, face, &first, &last);
        for (Py_ssize_t at = first; at < last; at++) {
            int32_t start = v[at], end = v[at + 1 < last ? at + 1 : first], low = lower_of(start, end);
            if (low >= 0)
                sides[counts[low]++] = (Side){2 * (uint32_t)higher_of(start, end) + (start > end), (int32_t)face};
        }
    }
    Py_ssize_t begin = 0;
    for (Py_ssize_t low = 0; low < vertices && !outside; low++) {
        Py_ssize_t stop = (Py_ssize_t)counts[low]; /* now the index after the vertex's last side */
        sort_list(sides + begin, stop - begin);
        while (begin < stop) {
            Py_ssize_t next = begin + 1;
            for (; next < stop && sides[next].high / 2 == sides[begin].high / 2; next++) {
                int32_t one = root_of(parents, sides[next - 1].face), other = root_of(parents, sides[next].face);
                components -= one != other;
                parents[higher_of(one, other)] = lower_of(one, other);
            }
            boundary += next - begin == 1;
            non_manifold += next - begin > 2;
            opposed += next - begin == 2 && sides[begin].high == sides[begin + 1].high;
            begin = next;
        }
    }
    Py_END_ALLOW_THREADS

    if (outside)
        PyErr_SetString(PyExc_IndexError, "a corner refers to a vertex that does not exist, or belongs to two faces");
    else
        result = Py_BuildValue("(nnnnn)", components, boundary, non_manifold, opposed, unused);
release:
    free(counts);
    free(used);
    free(parents);
    free(sides);
    PyBuffer_Release(&offsets);
    PyBuffer_Release(&given);
    return result;
}

#define STEP 0x9E3779B97F4A7C15u /* as in surface/face_set.py */

static inline uint64_t mixed(uint64_t word)
{
    word += STEP;
    word = (word ^ word >> 30) * 0xBF58476D1CE4E5B9u;
    word = (word ^ word >> 27) * 0x94D049BB133111EBu;
    return word ^ word >> 31;
}

/* hash_faces(offsets, v) -> sum of the hashes of all faces */
PyObject *hash_faces(PyObject *module, PyObject *arguments)
{
    (void)module;
    Py_buffer offsets, given;
    if (!PyArg_ParseTuple(arguments, "y*y*:hash_faces", &offsets, &given))
        return NULL;
    PyObject *result = NULL;
    Faces of;
    if (!faces_in(&offsets, &given, &of))
        goto release;
    const int32_t *v = given.buf;
    uint64_t sum = 0;

    Py_BEGIN_ALLOW_THREADS
    for (Py_ssize_t face = 0; face < of.faces; face++) {
        Py_ssize_t first, last;
        span_of(&of, face, &first, &last);
        uint64_t own = (uint64_t)(last - first);
        for (Py_ssize_t at = first; at < last; at++)
            own += mixed((uint64_t)((int64_t)v[at] + 1) + (uint64_t)(at - first) * STEP);
        sum += mixed(own);
    }
    Py_END_ALLOW_THREADS

    result = PyLong_FromUnsignedLongLong(sum);
release:
    PyBuffer_Release(&offsets);
    PyBuffer_Release(&given);
    return result;
}

#define LONGEST_SEARCH 64 /* entries; in a table that is half full, only one search in 2^40 is longer by chance */

/* find_alike(offsets, v, flags) -> number of flagged faces; -1 if too many marks collide in the table */
PyObject *find_alike(PyObject *module, PyObject *arguments)
{
    (void)module;
    Py_buffer offsets, given, flags;
    if (!PyArg_ParseTuple(arguments, "y*y*w*:find_alike", &offsets, &given, &flags))
        return NULL;
    PyObject *result = NULL;
    Faces of;
    uint64_t *marks = NULL;
    int32_t *table = NULL;
    if (!faces_in(&offsets, &given, &of))
        goto release;
    if (flags.len != of.faces) {
        PyErr_SetString(PyExc_ValueError, "buffers of different lengths");
        goto release;
    }
    const int32_t *v = given.buf;
    uint8_t *flag = flags.buf;
    size_t places = 1;
    int bits = 0;
    for (; places < 2 * (size_t)of.faces; places *= 2)
        bits++;
    marks = malloc(((size_t)of.faces + 1) * sizeof *marks);
    table = malloc(places * sizeof *table);
    if (marks == NULL || table == NULL) {
        PyErr_NoMemory();
        goto release;
    }
    Py_ssize_t found = 0;

    Py_BEGIN_ALLOW_THREADS
    memset(table, 0xff, places * sizeof *table); /* -1: no face */
    memset(flag, 0, (size_t)of.faces);
    for (Py_ssize_t face = 0; face < of.faces && found >= 0; face++) {
        Py_ssize_t first, last;
        span_of(&of, face, &first, &last);
        int32_t lowest = 0;
        uint64_t mark = (uint64_t)(last - first) * STEP;
        for (Py_ssize_t at = first; at < last; at++) {
            lowest = lower_of(lowest, v[at]);
            mark += (uint64_t)v[at] * ((uint64_t)v[at] + 1);
        }
        if (last - first < 3 || lowest < 0)
            continue;
        marks[face] = mark;
        size_t place = bits == 0 ? 0 : (size_t)(mixed(mark) >> (64 - bits));
        int left = LONGEST_SEARCH;
        while (table[place] >= 0 && marks[table[place]] != mark && left-- > 0)
            place = (place + 1) & (places - 1);
        if (left < 0) {
            found = -1;
        } else if (table[place] < 0) {
            table[place] = (int32_t)face;
        } else {
            found += 1 + !flag[table[place]];
            flag[table[place]] = flag[face] = 1;
        }
    }
    Py_END_ALLOW_THREADS

    result = PyLong_FromSsize_t(found);
release:
    free(marks);
    free(table);
    PyBuffer_Release(&offsets);
    PyBuffer_Release(&given);
    PyBuffer_Release(&flags);
    return result;
}

/* find_repeated(offsets, v, vertices, flags) -> number of flagged faces */
PyObject *find_repeated(PyObject *module, PyObject *arguments)
{
    (void)module;
    Py_buffer offsets, given, flags;
    Py_ssize_t vertices;
    if (!PyArg_ParseTuple(arguments, "y*y*nw*:find_repeated", &offsets, &given, &vertices, &flags))
        return NULL;
    PyObject *result = NULL;
    Faces of;
    int32_t *latest = NULL;
    if (!faces_in(&offsets, &given, &of))
        goto release;
    if (flags.len != of.faces || vertices < 0 || vertices > INT32_MAX) {
        PyErr_SetString(PyExc_ValueError, "buffers of different lengths, or too many vertices");
        goto release;
    }
    const int32_t *v = given.buf;
    uint8_t *flag = flags.buf;
    latest = malloc(((size_t)vertices + 1) * sizeof *latest);
    if (latest == NULL) {
        PyErr_NoMemory();
        goto release;
    }
    Py_ssize_t found = 0;
    int outside = 0;

    Py_BEGIN_ALLOW_THREADS
    for (Py_ssize_t at = 0; at < of.corners; at++)
        outside |= v[at] >= vertices;
    memset(latest, 0xff, (size_t)vertices * sizeof *latest); /* -1: no face so far */
    for (Py_ssize_t face = 0; face < of.faces && !outside; face++) {
        Py_ssize_t first, last;
        span_of(&of, face, &first, &last);
        int twice = 0;
        for (Py_ssize_t at = first; at < last; at++)
            if (v[at] >= 0) {
                twice |= latest[v[at]] == (int32_t)face;
                latest[v[at]] = (int32_t)face;
            }
        flag[face] = (uint8_t)twice;
        found += twice;
    }
    Py_END_ALLOW_THREADS

    if (outside)
        PyErr_SetString(PyExc_IndexError, "a corner refers to a vertex that does not exist");
    else
        result = PyLong_FromSsize_t(found);
release:
    free(latest);
    PyBuffer_Release(&offsets);
    PyBuffer_Release(&given);
    PyBuffer_Release(&flags);
    return result;
}
