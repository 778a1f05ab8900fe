/* The ends of lines and of blocks with one keyword, special bytes, and whether two buffers are equal. */
#include "spans.h"

/* Whether the line at `at` has the given keyword: an empty keyword for a blank line, # for any comment. */
static int has_keyword(Text at, Text stop, Text keyword, Py_ssize_t length)
{
    while (at < stop && (*at == ' ' || *at == '\t'))
        at++;
    if (!begins_with(at, stop, keyword, length))
        return 0;
    if (length == 1 && *keyword == '#')
        return 1;
    at += length;
    return at == stop || is_blank(*at) || *at == '\n';
}

/* find_run(text, start, keyword) -> (stop, lines)
 *
 * Finds the end of the run of lines with the keyword that begins at `start`, and its number of lines, at least 1.
 */
PyObject *find_run(PyObject *module, PyObject *arguments)
{
    (void)module;
    Py_buffer text, keyword;
    Py_ssize_t start;
    if (!PyArg_ParseTuple(arguments, "y*ny*:find_run", &text, &start, &keyword))
        return NULL;
    PyObject *result = NULL;
    if (!is_inside(start, text.len))
        goto release;

    Text begin = text.buf, stop = begin + text.len, line = begin + start;
    Py_ssize_t lines = 0;

    BEGIN_WORK((stop - line) / 5)
    do {
        Text end = memchr(line, '\n', (size_t)(stop - line));
        line = end == NULL ? stop : end + 1;
        lines++;
    } while (line < stop && has_keyword(line, stop, keyword.buf, keyword.len));
    END_WORK

    result = Py_BuildValue("(nn)", (Py_ssize_t)(line - begin), lines);
release:
    PyBuffer_Release(&text);
    PyBuffer_Release(&keyword);
    return result;
}

/* is_same(one, other) -> whether both buffers hold the same bytes. */
PyObject *is_same(PyObject *module, PyObject *arguments)
{
    (void)module;
    Py_buffer one, other;
    if (!PyArg_ParseTuple(arguments, "y*y*:is_same", &one, &other))
        return NULL;
    int same = one.len == other.len;
    if (same && one.len > 0) {
        BEGIN_WORK(one.len / 30)
        same = memcmp(one.buf, other.buf, (size_t)one.len) == 0;
        END_WORK
    }
    PyBuffer_Release(&one);
    PyBuffer_Release(&other);
    return PyBool_FromLong(same);
}

/* find_special(text) -> sum of 1 for a NUL, 2 for a carriage return, 4 for a backslash, 8 for a byte over 127 */
PyObject *find_special(PyObject *module, PyObject *arguments)
{
    (void)module;
    Py_buffer text;
    if (!PyArg_ParseTuple(arguments, "y*:find_special", &text))
        return NULL;
    Text at = text.buf, stop = at + text.len;
    uint8_t nul = 0, carriage_return = 0, backslash = 0, bits = 0;

    BEGIN_WORK(text.len / 15)
    for (; at < stop; at++) {
        nul |= *at == 0;
        carriage_return |= *at == '\r';
        backslash |= *at == '\\';
        bits |= *at;
    }
    END_WORK

    PyBuffer_Release(&text);
    return PyLong_FromLong(nul | carriage_return << 1 | backslash << 2 | (bits >> 7) << 3);
}

/* count_bytes(text, start) -> (newlines, blanks), the numbers of these bytes from `start` on */
PyObject *count_bytes(PyObject *module, PyObject *arguments)
{
    (void)module;
    Py_buffer text;
    Py_ssize_t start;
    if (!PyArg_ParseTuple(arguments, "y*n:count_bytes", &text, &start))
        return NULL;
    PyObject *result = NULL;
    if (!is_inside(start, text.len))
        goto release;

    Text at = (Text)text.buf + start, stop = (Text)text.buf + text.len;
    Py_ssize_t newlines = 0, blanks = 0;

    BEGIN_WORK((stop - at) / 10)
    while (at < stop) { /* with a rising index and no branches, the compiler can compare 16 bytes in one operation */
        Py_ssize_t length = stop - at > 255 ? 255 : stop - at; /* so that the counts of a piece fit in a byte */
        uint8_t some_newlines = 0, some_blanks = 0;
        for (Py_ssize_t index = 0; index < length; index++) {
            some_newlines += at[index] == '\n';
            some_blanks += (uint8_t)((at[index] == ' ') | (at[index] == '\t') | (at[index] == '\r'));
        }
        newlines += some_newlines;
        blanks += some_blanks;
        at += length;
    }
    END_WORK

    result = Py_BuildValue("(nn)", newlines, blanks);
release:
    PyBuffer_Release(&text);
    return result;
}
