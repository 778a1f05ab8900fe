/* How often faces cover the cells of a grid over their UVs: the inner loop of surface/uv_layers.py. */
#include "spans.h"

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

/* add_steps(u, v, size, low_u, low_v, scale_u, scale_v, cells, steps) -> None */
PyObject *add_steps(PyObject *module, PyObject *arguments)
{
    (void)module;
    Py_buffer first, second, sums;
    Py_ssize_t size, cells;
    double low_u, low_v, scale_u, scale_v;
    if (!PyArg_ParseTuple(arguments, "y*y*nddddnw*:add_steps", &first, &second, &size, &low_u, &low_v, &scale_u,
                          &scale_v, &cells, &sums))
        return NULL;
    PyObject *result = NULL;
    const double *u = first.buf, *v = second.buf;
    double *steps = sums.buf;
    if (!is_aligned(&first, sizeof *u) || !is_aligned(&second, sizeof *v) || !is_aligned(&sums, sizeof *steps))
        goto release;
    Py_ssize_t corners = first.len / (Py_ssize_t)sizeof *u;
    if (first.len != second.len || size < 1 || corners % size != 0 || cells < 0 || cells > 1 << 20 ||
        sums.len < cells * (cells + 1) * (Py_ssize_t)sizeof *steps) {
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
            double y0 = (v[start] - low_v) * scale_v, y1 = (v[end] - low_v) * scale_v;
            double row0 = ceil(y0 - 0.5), row1 = ceil(y1 - 0.5);
            double lowest = row0 < row1 ? row0 : row1, beyond = row0 < row1 ? row1 : row0;
            if (!(lowest < beyond && lowest >= 0.0 && beyond <= (double)cells))
                continue;
            double x0 = (u[start] - low_u) * scale_u, x1 = (u[end] - low_u) * scale_u;
            double weight = row0 < row1 ? -turn : turn;
            for (Py_ssize_t row = (Py_ssize_t)lowest; row < (Py_ssize_t)beyond; row++) {
                double middle = (double)row + 0.5;
                double column = ceil((x0 * (y1 - middle) + x1 * (middle - y0)) / (y1 - y0) - 0.5);
                column = column > 0.0 ? column : 0.0; /* also where it is not a number */
                column = column < (double)cells ? column : (double)cells;
                steps[row * (cells + 1) + (Py_ssize_t)column] += weight;
            }
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
