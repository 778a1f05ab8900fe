/* How faces are laid out in the texture, and how many of them cover each cell of a grid on the texture: the inner loops
 * of surface/uv_layout.py and surface/uv_layers.py.
 */
#include "faces.h"

#include <math.h>

static inline double sign_of(double value) { return value > 0.0 ? 1.0 : value < 0.0 ? -1.0 : 0.0; }

/* Twice the signed area in UV, relative to the first corner; corner i of the face is u[i * faces] and v[i * faces]. */
static inline double area_of(const double *u, const double *v, Py_ssize_t size, Py_ssize_t faces)
{
    double area = 0.0;
    for (Py_ssize_t at = 1; at + 1 < size; at++) {
        double u0 = u[at * faces] - u[0], v0 = v[at * faces] - v[0];
        double u1 = u[(at + 1) * faces] - u[0], v1 = v[(at + 1) * faces] - v[0];
        area = at == 1 ? u0 * v1 - u1 * v0 : area + (u0 * v1 - u1 * v0);
    }
    return area;
}

typedef struct {
    double low_u, low_v, scale_u, scale_v;
    Py_ssize_t cells;
} Grid;

/* A corner of a face: its position in cells, and the first row whose centre is not below it. */
typedef struct {
    double x, y, row;
} Corner;

/* Equals ceil(), which is a function call if the compiler may not use the instruction. */
static inline double round_up(double value)
{
    if (!(fabs(value) < 1e15))
        return ceil(value);
    double whole = (double)(int64_t)value;
    return whole < value ? whole + 1.0 : whole;
}

static inline Corner corner_at(const Grid *grid, double u, double v)
{
    double y = (v - grid->low_v) * grid->scale_v;
    return (Corner){(u - grid->low_u) * grid->scale_u, y, round_up(y - 0.5)};
}

/* Adds the steps of one side of a face: in each row that it crosses, at the first cell to its right. */
static inline void add_side(const Grid *grid, double *steps, double turn, Corner start, Corner end)
{
    double cells = (double)grid->cells;
    double lowest = start.row < end.row ? start.row : end.row, beyond = start.row < end.row ? end.row : start.row;
    if (!(lowest < beyond && lowest >= 0.0 && beyond <= cells))
        return;
    double weight = start.row < end.row ? -turn : turn;
    for (Py_ssize_t row = (Py_ssize_t)lowest; row < (Py_ssize_t)beyond; row++) {
        double middle = (double)row + 0.5;
        double column = (start.x * (end.y - middle) + end.x * (middle - start.y)) / (end.y - start.y) - 0.5;
        column = column > 0.0 ? round_up(column) : 0.0; /* 0 for NaN as well */
        column = column < cells ? column : cells;
        steps[row * (grid->cells + 1) + (Py_ssize_t)column] += weight;
    }
}

/* Number of bytes for the steps of one material, about 2^43 at most; 0 if the number of cells is out of bounds. */
static inline Py_ssize_t bytes_of(const Grid *grid)
{
    return grid->cells < 0 || grid->cells > 1 << 20 ? 0 : grid->cells * (grid->cells + 1) * (Py_ssize_t)sizeof(double);
}

/* add_steps(u, v, size, low_u, low_v, scale_u, scale_v, cells, steps) -> None */
PyObject *add_steps(PyObject *module, PyObject *arguments)
{
    (void)module;
    Py_buffer first, second, sums;
    Py_ssize_t size;
    Grid grid;
    if (!PyArg_ParseTuple(arguments, "y*y*nddddnw*:add_steps", &first, &second, &size, &grid.low_u, &grid.low_v,
                          &grid.scale_u, &grid.scale_v, &grid.cells, &sums))
        return NULL;
    PyObject *result = NULL;
    const double *u = first.buf, *v = second.buf;
    double *steps = sums.buf;
    if (!is_aligned(&first, sizeof *u) || !is_aligned(&second, sizeof *v) || !is_aligned(&sums, sizeof *steps))
        goto release;
    Py_ssize_t corners = first.len / (Py_ssize_t)sizeof *u;
    if (first.len != second.len || size < 1 || corners % size != 0 || (grid.cells != 0 && bytes_of(&grid) == 0) ||
        sums.len < bytes_of(&grid)) {
        PyErr_SetString(PyExc_ValueError, "buffers of different lengths");
        goto release;
    }
    Py_ssize_t faces = corners / size;

    Py_BEGIN_ALLOW_THREADS
    for (Py_ssize_t face = 0; face < faces; face++) {
        double turn = sign_of(area_of(u + face, v + face, size, faces));
        if (turn == 0.0)
            continue;
        for (Py_ssize_t at = 0; at < size; at++) {
            Py_ssize_t start = at * faces + face, end = (at + 1 < size ? at + 1 : 0) * faces + face;
            add_side(&grid, steps, turn, corner_at(&grid, u[start], v[start]), corner_at(&grid, u[end], v[end]));
        }
    }
    Py_END_ALLOW_THREADS

    result = Py_NewRef(Py_None);
release:
    PyBuffer_Release(&first);
    PyBuffer_Release(&second);
    PyBuffer_Release(&sums);
    return result;
}

/* The UVs of all faces of a frame; each UV has `width` numbers. */
typedef struct {
    Faces of;
    const double *values;
    const int32_t *vt;
    Py_ssize_t width, uvs;
} Layout;

static int layout_in(const Py_buffer *uvs, Py_ssize_t width, const Py_buffer *offsets, const Py_buffer *vt,
                     Layout *layout)
{
    if (!faces_in(offsets, vt, &layout->of) || !is_aligned(uvs, sizeof(double)))
        return 0;
    if (width != 2 && width != 3) {
        PyErr_SetString(PyExc_ValueError, "UVs have two or three numbers");
        return 0;
    }
    layout->values = uvs->buf;
    layout->vt = vt->buf;
    layout->width = width;
    layout->uvs = uvs->len / (width * (Py_ssize_t)sizeof(double));
    return 1;
}

/* The u and v of a corner; NULL if the corner has no UV, or u or v is not finite. */
static inline const double *uv_of(const Layout *layout, Py_ssize_t corner)
{
    int32_t which = layout->vt[corner];
    if (which < 0 || which >= layout->uvs)
        return NULL;
    const double *uv = layout->values + which * layout->width;
    return isfinite(uv[0]) && isfinite(uv[1]) ? uv : NULL;
}

/* Whether a face has 3 corners or more, each with a finite UV. */
static inline int is_laid_out(const Layout *layout, Py_ssize_t first, Py_ssize_t last)
{
    for (Py_ssize_t at = first; at < last; at++)
        if (uv_of(layout, at) == NULL)
            return 0;
    return last - first >= 3;
}

/* The UV of a corner of a face that is laid out. */
static inline const double *known_uv(const Layout *layout, Py_ssize_t corner)
{
    return layout->values + layout->vt[corner] * layout->width;
}

/* Twice the signed area of a face that is laid out, computed by the same operations as in area_of. */
static inline double area_at(const Layout *layout, Py_ssize_t first, Py_ssize_t last)
{
    const double *origin = known_uv(layout, first), *uv = known_uv(layout, first + 1);
    double area = 0.0, u0 = uv[0] - origin[0], v0 = uv[1] - origin[1];
    for (Py_ssize_t at = first + 2; at < last; at++) {
        uv = known_uv(layout, at);
        double u1 = uv[0] - origin[0], v1 = uv[1] - origin[1];
        area = at == first + 2 ? u0 * v1 - u1 * v0 : area + (u0 * v1 - u1 * v0);
        u0 = u1;
        v0 = v1;
    }
    return area;
}

enum { COLLAPSED = 1, OUTSIDE = 2, LAID_OUT = 4 };

/* measure_layout(uvs, width, offsets, vt, no_area, rim, flags) -> (low_u, low_v, high_u, high_v, area, mirrored) */
PyObject *measure_layout(PyObject *module, PyObject *arguments)
{
    (void)module;
    Py_buffer uvs, offsets, vt, flags;
    Py_ssize_t width;
    double no_area, rim;
    if (!PyArg_ParseTuple(arguments, "y*ny*y*ddw*:measure_layout", &uvs, &width, &offsets, &vt, &no_area, &rim, &flags))
        return NULL;
    PyObject *result = NULL;
    Layout layout;
    if (!layout_in(&uvs, width, &offsets, &vt, &layout))
        goto release;
    if (flags.len != layout.of.faces) {
        PyErr_SetString(PyExc_ValueError, "buffers of different lengths");
        goto release;
    }
    uint8_t *flag = flags.buf;
    double low_u = INFINITY, low_v = INFINITY, high_u = -INFINITY, high_v = -INFINITY, whole = 0.0, mirrored = 0.0;

    Py_BEGIN_ALLOW_THREADS
    for (Py_ssize_t start = 0; start < layout.of.faces; start += 256) { /* sums of partial sums lose fewer digits */
        Py_ssize_t end = layout.of.faces - start > 256 ? start + 256 : layout.of.faces;
        double some = 0.0, some_mirrored = 0.0;
        for (Py_ssize_t face = start; face < end; face++) {
            Py_ssize_t first, last;
            span_of(&layout.of, face, &first, &last);
            flag[face] = 0;
            if (!is_laid_out(&layout, first, last))
                continue;
            double area = area_at(&layout, first, last) / 2.0, sides[4] = {INFINITY, INFINITY, -INFINITY, -INFINITY};
            for (Py_ssize_t at = first; at < last; at++) {
                const double *uv = known_uv(&layout, at);
                sides[0] = uv[0] < sides[0] ? uv[0] : sides[0];
                sides[1] = uv[1] < sides[1] ? uv[1] : sides[1];
                sides[2] = uv[0] > sides[2] ? uv[0] : sides[2];
                sides[3] = uv[1] > sides[3] ? uv[1] : sides[3];
            }
            double wide = sides[2] - sides[0], high = sides[3] - sides[1], extent = wide > high ? wide : high;
            int is_outside = sides[0] < -rim || sides[1] < -rim || sides[2] > 1.0 + rim || sides[3] > 1.0 + rim;
            flag[face] = (uint8_t)(LAID_OUT | (2.0 * fabs(area) <= no_area * extent * extent ? COLLAPSED : 0) |
                                   (is_outside ? OUTSIDE : 0));
            low_u = sides[0] < low_u ? sides[0] : low_u;
            low_v = sides[1] < low_v ? sides[1] : low_v;
            high_u = sides[2] > high_u ? sides[2] : high_u;
            high_v = sides[3] > high_v ? sides[3] : high_v;
            some += fabs(area);
            some_mirrored += -area > 0.0 || area != area ? -area : 0.0; /* NaN stays NaN, as in NumPy */
        }
        whole += some;
        mirrored += some_mirrored;
    }
    Py_END_ALLOW_THREADS

    result = Py_BuildValue("(dddddd)", low_u, low_v, high_u, high_v, whole, mirrored);
release:
    PyBuffer_Release(&uvs);
    PyBuffer_Release(&offsets);
    PyBuffer_Release(&vt);
    PyBuffer_Release(&flags);
    return result;
}

/* add_layers(uvs, width, offsets, vt, material, low_u, low_v, scale_u, scale_v, cells, steps) -> None */
PyObject *add_layers(PyObject *module, PyObject *arguments)
{
    (void)module;
    Py_buffer uvs, offsets, vt, material, sums;
    Py_ssize_t width;
    Grid grid;
    if (!PyArg_ParseTuple(arguments, "y*ny*y*y*ddddnw*:add_layers", &uvs, &width, &offsets, &vt, &material, &grid.low_u,
                          &grid.low_v, &grid.scale_u, &grid.scale_v, &grid.cells, &sums))
        return NULL;
    PyObject *result = NULL;
    Layout layout;
    const int64_t *materials = material.buf;
    double *steps = sums.buf;
    if (!layout_in(&uvs, width, &offsets, &vt, &layout) || !is_aligned(&material, sizeof *materials) ||
        !is_aligned(&sums, sizeof *steps))
        goto release;
    if (material.len / (Py_ssize_t)sizeof *materials != layout.of.faces || bytes_of(&grid) == 0) {
        PyErr_SetString(PyExc_ValueError, "buffers of different lengths, or no cells");
        goto release;
    }
    int64_t count = sums.len / bytes_of(&grid);

    Py_BEGIN_ALLOW_THREADS
    for (Py_ssize_t face = 0; face < layout.of.faces; face++) {
        Py_ssize_t first, last;
        span_of(&layout.of, face, &first, &last);
        if (materials[face] < 0 || materials[face] >= count || !is_laid_out(&layout, first, last))
            continue;
        double turn = sign_of(area_at(&layout, first, last));
        if (turn == 0.0)
            continue;
        double *own = steps + materials[face] * (grid.cells * (grid.cells + 1));
        const double *uv = known_uv(&layout, last - 1);
        Corner start = corner_at(&grid, uv[0], uv[1]);
        for (Py_ssize_t at = first; at < last; at++) {
            uv = known_uv(&layout, at);
            Corner end = corner_at(&grid, uv[0], uv[1]);
            add_side(&grid, own, turn, start, end);
            start = end;
        }
    }
    Py_END_ALLOW_THREADS

    result = Py_NewRef(Py_None);
release:
    PyBuffer_Release(&uvs);
    PyBuffer_Release(&offsets);
    PyBuffer_Release(&vt);
    PyBuffer_Release(&material);
    PyBuffer_Release(&sums);
    return result;
}
