/* Spans of text: what every part of the module reads, one byte after a check that it is inside. */
#ifndef MESHQC_SPANS_H
#define MESHQC_SPANS_H

#define PY_SSIZE_T_CLEAN
#define Py_LIMITED_API 0x030B0000 /* the first version whose limited API has the buffer protocol */
#include <Python.h>

#include <float.h>
#include <stdint.h>
#include <string.h>

#if FLT_EVAL_METHOD != 0
#error "A double is rounded twice here: results would differ from NumPy's."
#endif
#if defined(__BYTE_ORDER__) && __BYTE_ORDER__ != __ORDER_LITTLE_ENDIAN__
#error "Words of text are read with the first character in the lowest byte."
#endif

typedef const uint8_t *Text;

/* Longer lines are handed back: the limits for them are the caller's. */
#define LONGEST_LINE (1 << 16)

static inline int is_blank(uint8_t byte) { return byte == ' ' || byte == '\t' || byte == '\r'; }

static inline int is_digit(uint8_t byte) { return (uint8_t)(byte - '0') < 10; }

static inline Text skip_blanks(Text at, Text stop)
{
    while (at < stop && is_blank(*at))
        at++;
    return at;
}

/* The byte after the keyword with which the line at `at` begins and a blank; NULL if it begins with something else. */
static inline Text skip_keyword(Text at, Text stop, Text keyword, Py_ssize_t length)
{
    at = skip_blanks(at, stop);
    if (stop - at <= length || memcmp(at, keyword, (size_t)length) != 0 || !is_blank(at[length]))
        return NULL;
    return at + length;
}

/* The start of the next line where nothing but blanks is left of this one and it is not too long; else NULL. */
static inline Text end_line(Text at, Text stop, Text line)
{
    at = skip_blanks(at, stop);
    if (at < stop && *at++ != '\n')
        return NULL;
    return at - line <= LONGEST_LINE ? at : NULL;
}

/* Whether `start` is a place in a buffer of `length` bytes; sets IndexError if not. */
static inline int is_inside(Py_ssize_t start, Py_ssize_t length)
{
    if (start >= 0 && start <= length)
        return 1;
    PyErr_SetString(PyExc_IndexError, "start is outside the buffer");
    return 0;
}

/* Whether values of `size` bytes may be written to the buffer as it lies in memory; sets ValueError if not. */
static inline int is_aligned(const Py_buffer *buffer, size_t size)
{
    if ((uintptr_t)buffer->buf % size == 0)
        return 1;
    PyErr_SetString(PyExc_ValueError, "a buffer is not aligned");
    return 0;
}

PyObject *read_numbers(PyObject *module, PyObject *arguments);
PyObject *read_faces(PyObject *module, PyObject *arguments);
PyObject *find_run(PyObject *module, PyObject *arguments);
PyObject *is_same(PyObject *module, PyObject *arguments);
PyObject *find_special(PyObject *module, PyObject *arguments);
PyObject *count_bytes(PyObject *module, PyObject *arguments);
PyObject *has_odd_number(PyObject *module, PyObject *arguments);
PyObject *count_decimals(PyObject *module, PyObject *arguments);
PyObject *measure_faces(PyObject *module, PyObject *arguments);
PyObject *measure_box(PyObject *module, PyObject *arguments);
PyObject *measure_motion(PyObject *module, PyObject *arguments);
PyObject *measure_tear(PyObject *module, PyObject *arguments);
PyObject *count_lengths(PyObject *module, PyObject *arguments);
PyObject *sort_sides(PyObject *module, PyObject *arguments);
PyObject *find_components(PyObject *module, PyObject *arguments);
PyObject *find_neighbours(PyObject *module, PyObject *arguments);
PyObject *connect_faces(PyObject *module, PyObject *arguments);
PyObject *hash_faces(PyObject *module, PyObject *arguments);
PyObject *find_alike(PyObject *module, PyObject *arguments);
PyObject *find_repeated(PyObject *module, PyObject *arguments);
PyObject *add_steps(PyObject *module, PyObject *arguments);
PyObject *add_layers(PyObject *module, PyObject *arguments);
PyObject *measure_layout(PyObject *module, PyObject *arguments);
PyObject *find_owners(PyObject *module, PyObject *arguments);
PyObject *resolve(PyObject *module, PyObject *arguments);

#endif
