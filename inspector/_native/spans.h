/* Reading spans of text. No byte is read before a check that it is inside the span. */
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

/* Longer lines are left to the caller, which has its own limits for them. */
#define LONGEST_LINE (1 << 16)

static inline int is_blank(uint8_t byte) { return byte == ' ' || byte == '\t' || byte == '\r'; }

static inline int is_digit(uint8_t byte) { return (uint8_t)(byte - '0') < 10; }

/* The 8 bytes from `at` on as a word in which each digit has its value. The caller must check that there are 8. */
static inline uint64_t digits_at(Text at)
{
    uint64_t word;
    memcpy(&word, at, sizeof word);
    return word ^ 0x3030303030303030;
}

/* Index of the first byte of the word that has its highest bit set; 8 if there is none. */
static inline int first_marked(uint64_t word)
{
#if defined(__GNUC__)
    return word ? __builtin_ctzll(word) >> 3 : 8;
#else
    int place = 0;
    for (; place < 8 && !(word & 0x80); word >>= 8)
        place++;
    return place;
#endif
}

/* Number of digits at the start of the word, 0 to 8. */
static inline int count_digits(uint64_t word)
{
    return first_marked(((word + 0x7676767676767676) | word) & 0x8080808080808080);
}

/* The number in the word's first `count` bytes, which are 1 to 8 digits. */
static inline uint32_t join_word(uint64_t word, int count)
{
    word <<= 64 - 8 * count;
    word = word * 10 + (word >> 8); /* pairs */
    return (uint32_t)(((word & 0x000000FF000000FF) * 0x000F424000000064 +
                       ((word >> 16) & 0x000000FF000000FF) * 0x0000271000000001) >> 32);
}

static inline Text skip_blanks(Text at, Text stop)
{
    while (at < stop && is_blank(*at))
        at++;
    return at;
}

/* Whether the text at `at` begins with the word. Words are so short that this loop is faster than a call of memcmp. */
static inline int begins_with(Text at, Text stop, Text word, Py_ssize_t length)
{
    if (stop - at < length)
        return 0;
    for (Py_ssize_t place = 0; place < length; place++)
        if (at[place] != word[place])
            return 0;
    return 1;
}

/* The byte after the keyword of the line at `at`; NULL unless the line begins with this keyword and a blank. */
static inline Text skip_keyword(Text at, Text stop, Text keyword, Py_ssize_t length)
{
    at = skip_blanks(at, stop);
    if (!begins_with(at, stop, keyword, length) || at + length == stop || !is_blank(at[length]))
        return NULL;
    return at + length;
}

/* The start of the next line if only blanks remain in this line and it is not too long; otherwise NULL. */
static inline Text end_line(Text at, Text stop, Text line)
{
    at = skip_blanks(at, stop);
    if (at < stop && *at++ != '\n')
        return NULL;
    return at - line <= LONGEST_LINE ? at : NULL;
}

/* Whether `start` is a position in a buffer of `length` bytes, or its end. Sets IndexError if not. */
static inline int is_inside(Py_ssize_t start, Py_ssize_t length)
{
    if (start >= 0 && start <= length)
        return 1;
    PyErr_SetString(PyExc_IndexError, "start is outside the buffer");
    return 0;
}

/* Whether the buffer is aligned for values of `size` bytes. Sets ValueError if not. */
static inline int is_aligned(const Py_buffer *buffer, size_t size)
{
    if ((uintptr_t)buffer->buf % size == 0)
        return 1;
    PyErr_SetString(PyExc_ValueError, "a buffer is not aligned");
    return 0;
}

/* Between these two macros, the interpreter lock is released if the work takes longer than releasing the lock and
 * taking it back, about 20 microseconds. Small frames are read in dozens of shorter calls.
 */
#define BEGIN_WORK(bytes) { PyThreadState *saved = (bytes) >= LONG_WORK ? PyEval_SaveThread() : NULL;
#define END_WORK if (saved != NULL) PyEval_RestoreThread(saved); }
#define LONG_WORK (1 << 15) /* bytes of numbers to read; for faster work, the caller divides its bytes by the speedup */

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
