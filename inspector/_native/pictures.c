/* Pictures: which triangle is visible at each sample, and the colour of each pixel from its samples. */
#include "spans.h"

#include <math.h>

#define NONE (-1)

static int are_aligned(const Py_buffer *buffers, const size_t *sizes, int count)
{
    for (int at = 0; at < count; at++)
        if (!is_aligned(&buffers[at], sizes[at]))
            return 0;
    return 1;
}

static void release_all(Py_buffer *buffers, int count)
{
    for (int at = 0; at < count; at++)
        PyBuffer_Release(&buffers[at]);
}

/* Replaces floor(), as do the following functions for ceil() and rint(): without SSE 4.1, those are function calls. */
static inline double floor_of(double value) /* for values below 2^63 */
{
    double whole = (double)(int64_t)value;
    return whole > value ? whole - 1.0 : whole;
}

/* The first column whose centre is not left of the point where a side crosses the row of pixels. */
static inline int64_t column_of(double crossing, int64_t width)
{
    double column = crossing - 0.5;
    if (!(column > 0.0)) /* true for NaN as well */
        return 0;
    if (column >= (double)width)
        return width;
    int64_t whole = (int64_t)column;
    return (double)whole < column ? whole + 1 : whole;
}

/* Rounds to a whole number, halves to even: after the addition, float64 has no binary digit left after the point. */
static inline double rint_of(double value) { return value + 6755399441055744.0 - 6755399441055744.0; }

/* find_owners(x, y, near, slope, first_row, row_counts, owner, nearest, width)
 *
 * Finds the nearest of k triangles for each pixel, like `_owners` in picture/raster.py. x, y and near are (3, k)
 * float64, with the corners from top to bottom; slope is (2, k) float64; first_row and row_counts are (k,) int64. The
 * results are written to owner (h * width,) int32 and nearest (h * width,) float64, which must hold NONE and minus
 * infinity for pixels where nothing is drawn.
 */
PyObject *find_owners(PyObject *module, PyObject *arguments)
{
    (void)module;
    Py_buffer buffers[8];
    Py_ssize_t width;
    static const size_t SIZES[8] = {8, 8, 8, 8, 8, 8, 4, 8};
    if (!PyArg_ParseTuple(arguments, "y*y*y*y*y*y*w*w*n:find_owners", &buffers[0], &buffers[1], &buffers[2],
                          &buffers[3], &buffers[4], &buffers[5], &buffers[6], &buffers[7], &width))
        return NULL;
    PyObject *result = NULL;
    if (!are_aligned(buffers, SIZES, 8))
        goto release;
    Py_ssize_t count = buffers[4].len / 8, pixels = buffers[6].len / 4;
    if (width <= 0 || pixels % width != 0 || buffers[7].len != 8 * pixels || buffers[5].len != 8 * count ||
        buffers[0].len != 24 * count || buffers[1].len != 24 * count || buffers[2].len != 24 * count ||
        buffers[3].len != 16 * count) {
        PyErr_SetString(PyExc_ValueError, "buffers of different lengths");
        goto release;
    }
    const double *x = buffers[0].buf, *y = buffers[1].buf, *near = buffers[2].buf, *slope = buffers[3].buf;
    const int64_t *first = buffers[4].buf, *rows = buffers[5].buf;
    int32_t *owner = buffers[6].buf;
    double *nearest = buffers[7].buf;
    int64_t height = pixels / width;

    Py_BEGIN_ALLOW_THREADS
    for (Py_ssize_t at = 0; at < count; at++) {
        double x0 = x[at], x1 = x[count + at], x2 = x[2 * count + at];
        double y0 = y[at], y1 = y[count + at], y2 = y[2 * count + at];
        double right = slope[at], down = slope[count + at], base = near[at];
        int64_t top = first[at] > 0 ? first[at] : 0;
        int64_t stop = rows[at] > 0 && top < height ? (rows[at] < height - top ? top + rows[at] : height) : top;
        for (int64_t row = top; row < stop; row++) {
            double middle = (double)row + 0.5;
            double whole = x0 + (middle - y0) * (x2 - x0) / (y2 - y0);
            double part = middle < y1 ? x0 + (middle - y0) * (x1 - x0) / (y1 - y0)
                                      : x1 + (middle - y1) * (x2 - x1) / (y2 - y1);
            int64_t start = column_of(whole < part ? whole : part, width);
            int64_t end = column_of(whole < part ? part : whole, width);
            double below = (middle - y0) * down;
            for (int64_t column = start; column < end; column++) {
                double value = base + ((double)column + 0.5 - x0) * right + below;
                int64_t pixel = row * width + column;
                if (value > nearest[pixel]) {
                    nearest[pixel] = value;
                    owner[pixel] = (int32_t)at;
                }
            }
        }
    }
    Py_END_ALLOW_THREADS

    result = Py_NewRef(Py_None);
release:
    release_all(buffers, 8);
    return result;
}

typedef struct {
    const uint8_t *data;
    const int64_t *levels; /* offset, width and height of each level */
    const int64_t *first;  /* first level and number of levels of each texture */
} Textures;

typedef struct {
    double u, v; /* position in the texture, v downward */
    double dudx, dudy, dvdx, dvdy;
} Spot;

/* Red, green and blue of a texture at a spot, from the level with pixels about as large as those of the picture. */
static void sample(const Textures *textures, int32_t which, const Spot *spot, double colour[3])
{
    const int64_t *level = &textures->levels[3 * textures->first[2 * which]];
    int64_t count = textures->first[2 * which + 1];
    double width = (double)level[1], height = (double)level[2];
    double ux = spot->dudx * width, vx = spot->dvdx * height, uy = spot->dudy * width, vy = spot->dvdy * height;
    double one = ux * ux + vx * vx, two = uy * uy + vy * vy;
    double larger = (one > two ? one : two) / 4.0, smaller = one > two ? two : one;
    double square = larger > smaller ? larger : smaller, most = 2.0;
    for (int64_t at = 1; at < count && square >= most; at++, most *= 4.0)
        level += 3;
    int64_t wide = level[1], high = level[2];
    double x = spot->u * (double)wide - 0.5, y = spot->v * (double)high - 0.5;
    double left = floor_of(x), top = floor_of(y), right_share = x - left, lower_share = y - top;
    int64_t column = (int64_t)left, row = (int64_t)top;
    column = column < 0 ? wide - 1 : column;
    row = row < 0 ? high - 1 : row;
    int64_t next = column + 1 < wide ? column + 1 : 0, below = row + 1 < high ? row + 1 : 0;
    const uint8_t *data = textures->data + level[0];
    const uint8_t *a = data + 3 * (row * wide + column), *b = data + 3 * (row * wide + next);
    const uint8_t *c = data + 3 * (below * wide + column), *d = data + 3 * (below * wide + next);
    for (int part = 0; part < 3; part++) {
        double upper = (double)a[part] * (1.0 - right_share) + (double)b[part] * right_share;
        double lower = (double)c[part] * (1.0 - right_share) + (double)d[part] * right_share;
        colour[part] = upper * (1.0 - lower_share) + lower * lower_share;
    }
}

/* The colour of a triangle at a point of the picture; see `_shaded` in picture/smooth.py. */
static void shade(const double *planes, const double *light, const int32_t *coat, const Textures *textures, double x,
                  double y, int striped, double colour[3])
{
    double w = planes[0] + planes[1] * x + planes[2] * y;
    Spot spot;
    spot.u = (planes[3] + planes[4] * x + planes[5] * y) / w;
    spot.v = (planes[6] + planes[7] * x + planes[8] * y) / w;
    double bright = light[0];
    int known = fabs(spot.u) < 1e9 && fabs(spot.v) < 1e9;
    if (known) {
        spot.dudx = (planes[4] - spot.u * planes[1]) / w;
        spot.dudy = (planes[5] - spot.u * planes[2]) / w;
        spot.dvdx = (planes[7] - spot.v * planes[1]) / w;
        spot.dvdy = (planes[8] - spot.v * planes[2]) / w;
        spot.u = spot.u - floor_of(spot.u);
        spot.v = 1.0 - (spot.v - floor_of(spot.v));
    }
    if (coat[1] >= 0 && known) {
        double normal[3], length = 0.0, facing = 0.0;
        sample(textures, coat[1], &spot, normal);
        for (int part = 0; part < 3; part++) {
            double along = normal[part] / 127.5 - 1.0;
            length = length + along * along;
            facing = facing + along * light[1 + part];
        }
        facing = length > 0.0 ? facing / sqrt(length) : 0.0;
        facing = facing > 0.0 ? (facing < 1.0 ? facing : 1.0) : 0.0;
        bright = light[4] + light[5] * facing;
        bright = bright < 1.0 ? bright : 1.0;
    }
    if (coat[0] >= 0 && known)
        sample(textures, coat[0], &spot, colour);
    else
        colour[0] = colour[1] = colour[2] = coat[0] == -2 ? 212.0 : (striped ? 96.0 : 150.0);
    double lit = 1.0 - light[6] + light[6] * bright;
    for (int part = 0; part < 3; part++)
        colour[part] = colour[part] * lit;
}

/* resolve(owner, planes, light, coats, data, levels, first, picture, width, factor)
 *
 * Draws the colours of triangles over the picture (h, width, 3) uint8, in place. `resolved` in picture/smooth.py does
 * the same in NumPy. owner (h * factor, width * factor) int32 is the triangle at each sample. planes (k, 9), light
 * (k, 7) float64 and coats (k, 2) int32 describe the triangles; data, levels (n, 3) and first (m, 2) int64 are the
 * textures. Raises IndexError if a triangle or a texture does not exist.
 */
PyObject *resolve(PyObject *module, PyObject *arguments)
{
    (void)module;
    Py_buffer buffers[8];
    Py_ssize_t width;
    int factor, amiss = 0;
    static const size_t SIZES[8] = {4, 8, 8, 4, 1, 8, 8, 1};
    if (!PyArg_ParseTuple(arguments, "y*y*y*y*y*y*y*w*ni:resolve", &buffers[0], &buffers[1], &buffers[2], &buffers[3],
                          &buffers[4], &buffers[5], &buffers[6], &buffers[7], &width, &factor))
        return NULL;
    PyObject *result = NULL;
    if (!are_aligned(buffers, SIZES, 8))
        goto release;
    Py_ssize_t count = buffers[3].len / 8, pixels = buffers[7].len / 3, levels = buffers[5].len / 24;
    Py_ssize_t textures = buffers[6].len / 16;
    if (factor < 1 || factor > 4 || width <= 0 || pixels % width != 0 ||
        buffers[0].len != 4 * pixels * factor * factor || buffers[1].len != 72 * count ||
        buffers[2].len != 56 * count) {
        PyErr_SetString(PyExc_ValueError, "buffers of different lengths");
        goto release;
    }
    const int32_t *owner = buffers[0].buf, *coats = buffers[3].buf;
    const double *planes = buffers[1].buf, *light = buffers[2].buf;
    const Textures worn = {buffers[4].buf, buffers[5].buf, buffers[6].buf};
    uint8_t *picture = buffers[7].buf;
    Py_ssize_t height = pixels / width;

    Py_BEGIN_ALLOW_THREADS
    for (Py_ssize_t at = 0; at < levels; at++) {
        const int64_t *level = &worn.levels[3 * at];
        amiss |= level[0] < 0 || level[1] < 1 || level[2] < 1 || level[1] > (1 << 20) || level[2] > (1 << 20) ||
                 level[0] > buffers[4].len - 3 * level[1] * level[2];
    }
    for (Py_ssize_t at = 0; at < textures; at++)
        amiss |= worn.first[2 * at] < 0 || worn.first[2 * at + 1] < 1 || worn.first[2 * at + 1] > levels ||
                 worn.first[2 * at] > levels - worn.first[2 * at + 1];
    for (Py_ssize_t at = 0; at < 2 * count; at++)
        amiss |= coats[at] < -2 || coats[at] >= textures;
    for (Py_ssize_t row = 0; row < height && !amiss; row++) {
        for (Py_ssize_t column = 0; column < width && !amiss; column++) {
            int32_t seen[16];
            double x[16], y[16], sum[3] = {0.0, 0.0, 0.0}, covered = 0.0;
            int times[16], found = 0;
            for (int down = 0; down < factor; down++) {
                const int32_t *line = &owner[((row * factor + down) * width + column) * factor];
                for (int across = 0; across < factor; across++) {
                    int32_t which = line[across];
                    if (which == NONE)
                        continue;
                    if (which < 0 || which >= count) {
                        amiss = 1;
                        continue;
                    }
                    int at = 0;
                    while (at < found && seen[at] != which)
                        at++;
                    if (at == found) {
                        seen[found] = which;
                        x[found] = y[found] = 0.0;
                        times[found++] = 0;
                    }
                    x[at] += (double)(column * factor + across) + 0.5;
                    y[at] += (double)(row * factor + down) + 0.5;
                    times[at]++;
                }
            }
            if (found == 0)
                continue;
            for (int at = 0; at < found; at++) {
                double colour[3], share = (double)times[at] / (double)(factor * factor);
                int32_t which = seen[at];
                shade(&planes[9 * which], &light[7 * which], &coats[2 * which], &worn, x[at] / (double)times[at],
                      y[at] / (double)times[at], (row + column) % 8 < 2, colour);
                covered += share;
                for (int part = 0; part < 3; part++)
                    sum[part] += share * colour[part];
            }
            uint8_t *pixel = &picture[3 * (row * width + column)];
            for (int part = 0; part < 3; part++) {
                double value = sum[part] + (1.0 - covered) * (double)pixel[part];
                pixel[part] = (uint8_t)(value > 0.0 ? (value < 255.0 ? rint_of(value) : 255.0) : 0.0);
            }
        }
    }
    Py_END_ALLOW_THREADS

    if (amiss)
        PyErr_SetString(PyExc_IndexError, "a triangle or a texture does not exist");
    else
        result = Py_NewRef(Py_None);
release:
    release_all(buffers, 8);
    return result;
}
