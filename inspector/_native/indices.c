/* Reads the indices in lines of faces, as written. */
#include "spans.h"

#define MOST_DIGITS 9 /* any index with this many digits fits in 32 bits */

enum { V = 0, HAS_VT = 1, HAS_VN = 2 };

/* The byte after the index that begins at `at`; NULL if there is no index, or it is too long.
 *
 * Most indices have `usual` digits, as many as the corresponding index of the previous corner. With this guess, the
 * processor can continue with the next bytes before it has found the end of the index.
 */
static inline Text read_index(Text at, Text stop, int32_t *index, int *usual)
{
    if (stop - at >= 8) { /* nearly always, these bytes hold 1 to 7 digits and the byte after them */
        uint64_t word = digits_at(at);
        Text end = at + *usual;
        int count = count_digits(word);
        if (count == *usual) {
            *index = (int32_t)join_word(word, count);
            return end;
        }
        if (count >= 1 && count <= 7) {
            *usual = count;
            *index = (int32_t)join_word(word, count);
            return at + count;
        }
    }
    int negative = at < stop && *at == '-';
    at += negative;
    Text first = at;
    int32_t value = 0;
    for (; at < stop && is_digit(*at); at++) {
        if (at - first == MOST_DIGITS)
            return NULL;
        value = value * 10 + (*at - '0');
    }
    *index = negative ? -value : value;
    return at == first ? NULL : at;
}

/* The byte after the corner that begins at `at`; NULL if it is not v, v/vt, v//vn or v/vt/vn. Sets `form`. */
static inline Text read_corner(Text at, Text stop, int32_t corner[3], int *form, int usual[3])
{
    *form = V;
    at = read_index(at, stop, &corner[0], &usual[0]);
    if (at == NULL || at == stop || *at != '/')
        return at;
    at++;
    if (at < stop && *at != '/') {
        *form |= HAS_VT;
        at = read_index(at, stop, &corner[1], &usual[1]);
        if (at == NULL || at == stop || *at != '/')
            return at;
    }
    if (at == stop)
        return NULL;
    *form |= HAS_VN;
    return read_index(at + 1, stop, &corner[2], &usual[2]);
}

/* read_faces(text, start, keyword, most, v, vt, vn, ends) -> (faces, corners, position, has_vt, has_vn)
 *
 * Reads whole lines from `start` on, each with the keyword and 3 to `most` corners, all of the same form. Stops at a
 * line in a different form, or if a buffer is full; `position` is the start of the first line that was not read. v, vt
 * and vn (int32) get the indices of the corners, `ends` (int64) the number of corners up to the end of each face.
 */
PyObject *read_faces(PyObject *module, PyObject *arguments)
{
    (void)module;
    Py_buffer text, keyword, slots[3], ends;
    Py_ssize_t start, most;
    if (!PyArg_ParseTuple(arguments, "y*ny*nw*w*w*w*:read_faces", &text, &start, &keyword, &most, &slots[0], &slots[1],
                          &slots[2], &ends))
        return NULL;
    PyObject *result = NULL;
    if (!is_inside(start, text.len) || !is_aligned(&ends, sizeof(int64_t)))
        goto release;
    for (int slot = 0; slot < 3; slot++)
        if (!is_aligned(&slots[slot], sizeof(int32_t)))
            goto release;

    Text begin = text.buf, stop = begin + text.len, line = begin + start;
    int32_t *v = slots[0].buf, *vt = slots[1].buf, *vn = slots[2].buf;
    int64_t *end = ends.buf;
    Py_ssize_t faces_room = ends.len / (Py_ssize_t)sizeof *end, room = slots[0].len;
    for (int slot = 1; slot < 3; slot++)
        room = slots[slot].len < room ? slots[slot].len : room;
    room /= (Py_ssize_t)sizeof *v;
    Py_ssize_t faces = 0, corners = 0;
    int usual[3] = {1, 1, 1}; /* digits of each index of a corner, 1 to 7 */
    int form = -1; /* of all corners; -1 before the first */

    BEGIN_WORK(stop - line)
    while (line < stop && faces < faces_room) {
        Text at = skip_keyword(line, stop, keyword.buf, keyword.len);
        Py_ssize_t corner = corners;
        int of_face = form;
        while (at != NULL) {
            Text token = skip_blanks(at, stop);
            if (token == stop || *token == '\n')
                break;
            int32_t indices[3] = {0, 0, 0};
            int own;
            if (token == at || corner == room || (at = read_corner(token, stop, indices, &own, usual)) == NULL ||
                (of_face != -1 && own != of_face)) {
                at = NULL;
                break;
            }
            of_face = own;
            v[corner] = indices[0];
            vt[corner] = indices[1];
            vn[corner] = indices[2];
            corner++;
        }
        at = at != NULL && corner - corners >= 3 && corner - corners <= most ? end_line(at, stop, line) : NULL;
        if (at == NULL)
            break;
        form = of_face;
        corners = corner;
        end[faces++] = corners;
        line = at;
    }
    END_WORK

    int has_vt = form > 0 && form & HAS_VT, has_vn = form > 0 && form & HAS_VN;
    result = Py_BuildValue("(nnnNN)", faces, corners, (Py_ssize_t)(line - begin), PyBool_FromLong(has_vt),
                           PyBool_FromLong(has_vn));
release:
    PyBuffer_Release(&text);
    PyBuffer_Release(&keyword);
    for (int slot = 0; slot < 3; slot++)
        PyBuffer_Release(&slots[slot]);
    PyBuffer_Release(&ends);
    return result;
}
