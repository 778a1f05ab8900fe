/* Measurements of the arrays of every frame. Each value of a vertex or face is computed by the same operations in the
 * same order as in the NumPy path, so that both agree to the last bit. Only sums over all vertices or faces may differ,
 * because they are rounded in a different order. -ffp-contract=off keeps the compiler from fusing a product and a sum.
 */
#include "spans.h"

#include <math.h>

typedef struct {
    double x, y, z;
} Vector;

enum { ZERO_AREA = 1, CONCAVE = 2, NON_PLANAR = 4, AGAINST = 8, KINDS = 4 };

#define STRETCHES 1024 /* ranges of vertices; only those with one of the farthest vertices are read twice */

typedef struct {
    double zero_area, non_planar, concave, against; /* thresholds, see surface/shapes.py */
} Thresholds;

typedef struct {
    Vector side, area; /* the first side, and twice the area vector */
    double square;     /* squared length of `area` */
    int flags;
} Shape;

static inline Vector difference(Vector a, Vector b) { return (Vector){a.x - b.x, a.y - b.y, a.z - b.z}; }

static inline double dot(Vector a, Vector b) { return a.x * b.x + a.y * b.y + a.z * b.z; }

static inline Vector cross(Vector a, Vector b)
{
    return (Vector){a.y * b.z - a.z * b.y, a.z * b.x - a.x * b.z, a.x * b.y - a.y * b.x};
}

/* Like NumPy's minimum and maximum: NaN if a or b is NaN. */
static inline double lower(double a, double b) { return a < b || a != a ? a : b; }

static inline double higher(double a, double b) { return a > b || a != a ? a : b; }

static inline int has_no_area(double square, double reach, const Thresholds *limits)
{
    double least = limits->zero_area * reach;
    least *= least;
    return square <= least && least < INFINITY;
}

static inline int is_non_planar(double gap, double square, double length, const Thresholds *limits)
{
    return gap * gap > limits->non_planar * limits->non_planar * square * length / 2.0;
}

static inline Shape quad(const Vector *points, const int32_t *ring, const Thresholds *limits)
{
    Vector a = points[ring[0]], b = points[ring[1]], c = points[ring[2]], d = points[ring[3]];
    Vector along = difference(c, a), across = difference(d, b), side = difference(b, a);
    Shape shape = {side, cross(along, across), 0.0, 0};
    double square = shape.square = dot(shape.area, shape.area);
    double one = dot(along, along), two = dot(across, across), both = dot(along, across);
    double by_one = dot(side, along), by_two = dot(side, across);
    double first = by_one * both - by_two * one, last = by_one * two - by_two * both;
    double lowest = lower(lower(first, last), square - higher(first, last));
    if (has_no_area(square, (one + two) / 2.0, limits))
        shape.flags = ZERO_AREA;
    else if (is_non_planar(dot(side, shape.area), square, sqrt(square), limits))
        shape.flags = NON_PLANAR;
    else if (lowest < -limits->concave * square)
        shape.flags = CONCAVE;
    return shape;
}

static inline Shape polygon(const Vector *points, const int32_t *ring, Py_ssize_t size, const Thresholds *limits)
{
    Vector origin = points[ring[0]], ray = difference(points[ring[1]], origin);
    Shape shape = {ray, {0.0, 0.0, 0.0}, 0.0, 0};
    double reach = dot(ray, ray);
    for (Py_ssize_t corner = 2; corner < size; corner++) {
        Vector next = difference(points[ring[corner]], origin), part = cross(ray, next);
        shape.area = corner == 2 ? part
                                 : (Vector){shape.area.x + part.x, shape.area.y + part.y, shape.area.z + part.z};
        reach += dot(next, next);
        ray = next;
    }
    double square = shape.square = dot(shape.area, shape.area);
    if (has_no_area(square, reach / (double)(size - 1), limits)) {
        shape.flags = ZERO_AREA;
        return shape;
    }
    if (size == 3)
        return shape;
    double lowest = dot(origin, shape.area), highest = lowest;
    for (Py_ssize_t corner = 1; corner < size; corner++) {
        double height = dot(points[ring[corner]], shape.area);
        lowest = lower(lowest, height);
        highest = higher(highest, height);
    }
    if (is_non_planar(highest - lowest, square, sqrt(square), limits)) {
        shape.flags = NON_PLANAR;
        return shape;
    }
    Vector edge = difference(origin, points[ring[size - 1]]);
    double least = INFINITY, most = -INFINITY;
    for (Py_ssize_t corner = 0; corner < size; corner++) {
        Vector next = difference(points[ring[corner + 1 < size ? corner + 1 : 0]], points[ring[corner]]);
        double turn = dot(cross(edge, next), shape.area);
        least = lower(least, turn);
        most = higher(most, turn);
        edge = next;
    }
    if (least < -limits->concave * most)
        shape.flags = CONCAVE;
    return shape;
}

static inline int is_complete(const int32_t *ring, Py_ssize_t size, Py_ssize_t vertices)
{
    for (Py_ssize_t corner = 0; corner < size; corner++)
        if (ring[corner] < 0 || ring[corner] >= vertices)
            return 0;
    return 1;
}

/* Whether the normal exists and points to the back of the face: its cosine with the face's normal is below `least`. */
static inline int points_back(const Vector *normals, Py_ssize_t count, int32_t which, const Shape *shape, double length,
                              double least)
{
    if (which < 0 || which >= count)
        return 0;
    Vector normal = normals[which];
    double along = dot(normal, shape->area);
    if (along >= 0.0 && least <= 0.0) /* this is nearly always so, and avoids a square root */
        return 0;
    return along < least * length * sqrt(dot(normal, normal));
}

/* measure_faces(positions, normals, offsets, v, vn, closed, thresholds, flags)
 * -> (faces, sides, area, volume, counts)
 *
 * Measures the faces of 3 corners or more that have all their vertices. Returns the number of these faces, the sums of
 * the lengths of their first sides, of their areas and, if `closed`, of their signed volumes, and the number of faces
 * with each flag (zero area, concave, non-planar, against its normals). flags (f uint8) gets the flags of each face.
 */
PyObject *measure_faces(PyObject *module, PyObject *arguments)
{
    (void)module;
    Py_buffer buffers[5], flags;
    Thresholds limits;
    int closed;
    if (!PyArg_ParseTuple(arguments, "y*y*y*y*y*p(dddd)w*:measure_faces", &buffers[0], &buffers[1], &buffers[2],
                          &buffers[3], &buffers[4], &closed, &limits.zero_area, &limits.non_planar, &limits.concave,
                          &limits.against, &flags))
        return NULL;
    PyObject *result = NULL;
    for (int which = 0; which < 5; which++)
        if (!is_aligned(&buffers[which], which < 3 ? sizeof(double) : sizeof(int32_t)))
            goto release;
    const Vector *points = buffers[0].buf, *normals = buffers[1].buf;
    const int64_t *offsets = buffers[2].buf;
    const int32_t *v = buffers[3].buf, *vn = buffers[4].buf;
    uint8_t *flag = flags.buf;
    Py_ssize_t vertices = buffers[0].len / (Py_ssize_t)sizeof *points;
    Py_ssize_t normals_count = buffers[1].len / (Py_ssize_t)sizeof *normals;
    Py_ssize_t faces = buffers[2].len / (Py_ssize_t)sizeof *offsets - 1;
    Py_ssize_t corners = buffers[3].len / (Py_ssize_t)sizeof *v;
    if (faces > flags.len || buffers[4].len != buffers[3].len) {
        PyErr_SetString(PyExc_ValueError, "buffers of different lengths");
        goto release;
    }

    Py_ssize_t measured = 0, counts[KINDS] = {0, 0, 0, 0};
    double sides = 0.0, area = 0.0, volume = 0.0;

    BEGIN_WORK(buffers[0].len)
    for (Py_ssize_t start = 0; start < faces; start += 256) { /* sums of partial sums lose fewer digits */
        Py_ssize_t end = faces - start > 256 ? start + 256 : faces;
        double some_sides = 0.0, some_area = 0.0, some_volume = 0.0;
        for (Py_ssize_t face = start; face < end; face++) {
            int64_t first = offsets[face], last = offsets[face + 1];
            flag[face] = 0;
            if (first < 0 || last > corners || first > last || last - first < 3)
                continue;
            Py_ssize_t size = (Py_ssize_t)(last - first);
            if (!is_complete(v + first, size, vertices))
                continue;
            Shape shape = size == 4 ? quad(points, v + first, &limits) : polygon(points, v + first, size, &limits);
            double length = sqrt(shape.square);
            if (shape.flags != ZERO_AREA && points_back(normals, normals_count, vn[first], &shape, length, limits.against)
                && points_back(normals, normals_count, vn[first + size / 2], &shape, length, limits.against))
                shape.flags |= AGAINST;
            measured++;
            some_sides += sqrt(dot(shape.side, shape.side));
            some_area += length;
            if (closed)
                some_volume += dot(difference(points[v[first]], points[0]), shape.area);
            flag[face] = (uint8_t)shape.flags;
            if (shape.flags)
                for (int kind = 0; kind < KINDS; kind++)
                    counts[kind] += shape.flags >> kind & 1;
        }
        sides += some_sides;
        area += some_area;
        volume += some_volume;
    }
    END_WORK

    result = Py_BuildValue("(nddd(nnnn))", measured, sides, area / 2.0, volume / 6.0, counts[0], counts[1], counts[2],
                           counts[3]);
release:
    for (int which = 0; which < 5; which++)
        PyBuffer_Release(&buffers[which]);
    PyBuffer_Release(&flags);
    return result;
}

/* measure_box(positions) -> (minimum x, y, z, maximum x, y, z); None if a position is not finite, or there is none */
PyObject *measure_box(PyObject *module, PyObject *arguments)
{
    (void)module;
    Py_buffer positions;
    if (!PyArg_ParseTuple(arguments, "y*:measure_box", &positions))
        return NULL;
    PyObject *result = NULL;
    if (!is_aligned(&positions, sizeof(double)))
        goto release;
    const Vector *points = positions.buf;
    Py_ssize_t count = positions.len / (Py_ssize_t)sizeof *points;
    Vector low = {INFINITY, INFINITY, INFINITY}, high = {-INFINITY, -INFINITY, -INFINITY};
    Vector none = {0.0, 0.0, 0.0}; /* becomes NaN if a coordinate is infinite or NaN */

    BEGIN_WORK(positions.len / 12)
    for (Py_ssize_t at = 0; at < count; at++) {
        Vector point = points[at];
        low = (Vector){point.x < low.x ? point.x : low.x, point.y < low.y ? point.y : low.y,
                       point.z < low.z ? point.z : low.z};
        high = (Vector){point.x > high.x ? point.x : high.x, point.y > high.y ? point.y : high.y,
                        point.z > high.z ? point.z : high.z};
        none = (Vector){none.x + point.x * 0.0, none.y + point.y * 0.0, none.z + point.z * 0.0};
    }
    END_WORK

    if (count == 0 || none.x + none.y + none.z != 0.0)
        result = Py_NewRef(Py_None);
    else
        result = Py_BuildValue("(dddddd)", low.x, low.y, low.z, high.x, high.y, high.z);
release:
    PyBuffer_Release(&positions);
    return result;
}

/* measure_motion(positions, before) -> (distances, vertex, alike)
 *
 * The sum of the distances that the vertices moved, the first vertex that moved farthest, and the number of vertices
 * that moved at least half as far. Both buffers must have the same length.
 */
PyObject *measure_motion(PyObject *module, PyObject *arguments)
{
    (void)module;
    Py_buffer positions, before;
    if (!PyArg_ParseTuple(arguments, "y*y*:measure_motion", &positions, &before))
        return NULL;
    PyObject *result = NULL;
    if (!is_aligned(&positions, sizeof(double)) || !is_aligned(&before, sizeof(double)))
        goto release;
    if (positions.len != before.len) {
        PyErr_SetString(PyExc_ValueError, "buffers of different lengths");
        goto release;
    }
    const Vector *points = positions.buf, *others = before.buf;
    Py_ssize_t count = positions.len / (Py_ssize_t)sizeof *points, vertex = 0, alike = 0;
    double distances = 0.0, farthest = -1.0;

    BEGIN_WORK(positions.len / 6)
    for (Py_ssize_t start = 0; start < count; start += 256) { /* sums of partial sums lose fewer digits */
        Py_ssize_t end = count - start > 256 ? start + 256 : count;
        double some = 0.0;
        for (Py_ssize_t at = start; at < end; at++) {
            Vector moved = difference(points[at], others[at]);
            double square = dot(moved, moved);
            some += sqrt(square);
            if (square > farthest) {
                farthest = square;
                vertex = at;
            }
        }
        distances += some;
    }
    for (Py_ssize_t at = 0; at < count; at++) {
        Vector moved = difference(points[at], others[at]);
        alike += dot(moved, moved) >= farthest / 4.0;
    }
    END_WORK

    result = Py_BuildValue("(dnn)", distances, vertex, alike);
release:
    PyBuffer_Release(&positions);
    PyBuffer_Release(&before);
    return result;
}

static inline Vector torn(const Vector *points, const Vector *others, const int32_t *beside, Py_ssize_t at)
{
    Vector around = {0.0, 0.0, 0.0};
    for (int which = 0; which < 4; which++) {
        Py_ssize_t other = beside[4 * at + which];
        Vector moved = difference(points[other], others[other]);
        around = (Vector){around.x + moved.x, around.y + moved.y, around.z + moved.z};
    }
    Vector own = difference(points[at], others[at]);
    return (Vector){own.x - around.x * 0.25, own.y - around.y * 0.25, own.z - around.z * 0.25};
}

/* measure_tear(positions, before, beside, alike) -> (vertex, x, y, z, square, count)
 *
 * Measures displacements relative to the mean displacement of four neighbours, `beside` (n, 4). Returns the first
 * vertex whose squared displacement is at least `alike` times the largest, its displacement, the largest square, and
 * the number of such vertices. Raises IndexError if a neighbour is not a vertex.
 */
PyObject *measure_tear(PyObject *module, PyObject *arguments)
{
    (void)module;
    Py_buffer positions, before, beside;
    double share;
    if (!PyArg_ParseTuple(arguments, "y*y*y*d:measure_tear", &positions, &before, &beside, &share))
        return NULL;
    PyObject *result = NULL;
    const Vector *points = positions.buf, *others = before.buf;
    const int32_t *near = beside.buf;
    Py_ssize_t count = positions.len / (Py_ssize_t)sizeof *points, vertex = 0, alike = 0;
    int outside = 0;
    double farthest = -1.0;
    Vector way = {0.0, 0.0, 0.0};
    if (!is_aligned(&positions, sizeof(double)) || !is_aligned(&before, sizeof(double)) ||
        !is_aligned(&beside, sizeof(int32_t)))
        goto release;
    if (positions.len != before.len || beside.len != 4 * count * (Py_ssize_t)sizeof *near) {
        PyErr_SetString(PyExc_ValueError, "buffers of different lengths");
        goto release;
    }

    double highest[STRETCHES];
    Py_ssize_t length = count / STRETCHES + 1;

    BEGIN_WORK(positions.len)
    for (Py_ssize_t at = 0; at < 4 * count; at++)
        outside |= near[at] < 0 || near[at] >= count;
    for (Py_ssize_t start = 0; start < count && !outside; start += length) {
        Py_ssize_t end = count - start > length ? start + length : count;
        double high = -1.0;
        for (Py_ssize_t at = start; at < end; at++) {
            Vector moved = torn(points, others, near, at);
            double square = dot(moved, moved);
            high = square > high ? square : high;
        }
        highest[start / length] = high;
        farthest = high > farthest ? high : farthest;
    }
    for (Py_ssize_t start = 0; start < count && !outside; start += length) {
        Py_ssize_t end = count - start > length ? start + length : count;
        for (Py_ssize_t at = start; at < end && highest[start / length] >= share * farthest; at++) {
            Vector moved = torn(points, others, near, at);
            if (dot(moved, moved) >= share * farthest && alike++ == 0) {
                vertex = at;
                way = moved;
            }
        }
    }
    END_WORK

    if (outside)
        PyErr_SetString(PyExc_IndexError, "a neighbour is not a vertex");
    else
        result = Py_BuildValue("(nddddn)", vertex, way.x, way.y, way.z, farthest, alike);
release:
    PyBuffer_Release(&positions);
    PyBuffer_Release(&before);
    PyBuffer_Release(&beside);
    return result;
}

/* count_lengths(normals, low, high) -> number of normals whose squared length is below `low` or above `high` */
PyObject *count_lengths(PyObject *module, PyObject *arguments)
{
    (void)module;
    Py_buffer normals;
    double low, high;
    if (!PyArg_ParseTuple(arguments, "y*dd:count_lengths", &normals, &low, &high))
        return NULL;
    PyObject *result = NULL;
    if (!is_aligned(&normals, sizeof(double)))
        goto release;
    const Vector *vectors = normals.buf;
    Py_ssize_t count = normals.len / (Py_ssize_t)sizeof *vectors, off = 0;

    BEGIN_WORK(normals.len / 20)
    for (Py_ssize_t at = 0; at < count; at++) {
        double square = dot(vectors[at], vectors[at]);
        off += square < low || square > high;
    }
    END_WORK

    result = PyLong_FromSsize_t(off);
release:
    PyBuffer_Release(&normals);
    return result;
}
