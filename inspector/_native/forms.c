/* How numbers are written, examined at the start of a list. */
#include "spans.h"

static inline int is_space(uint8_t byte) { return is_blank(byte) || byte == '\v' || byte == '\f'; }

/* Whether the token at `at` is a number in an unusual form: +1, .5, 5. or 05. */
static int is_odd(Text at, Text stop)
{
    if (stop - at >= 2 && *at == '+')
        return is_digit(at[1]) || at[1] == '.';
    at += at < stop && *at == '-';
    Text digits = at;
    while (at < stop && is_digit(*at))
        at++;
    if (at == digits)
        return stop - at >= 2 && *at == '.' && is_digit(at[1]);
    if (at - digits >= 2 && *digits == '0')
        return 1;
    return stop - at >= 2 && *at == '.' && (is_blank(at[1]) || at[1] == '\n' || (at[1] | 0x20) == 'e');
}

/* has_odd_number(text) -> whether a number after a space, a tab or a slash has an unusual form */
PyObject *has_odd_number(PyObject *module, PyObject *arguments)
{
    (void)module;
    Py_buffer text;
    if (!PyArg_ParseTuple(arguments, "y*:has_odd_number", &text))
        return NULL;
    Text at = text.buf, stop = at + text.len;
    int odd = 0;
    for (; at < stop && !odd; at++)
        odd = (*at == ' ' || *at == '\t' || *at == '/') && is_odd(at + 1, stop);
    PyBuffer_Release(&text);
    return PyBool_FromLong(odd);
}

/* count_decimals(text, columns) -> (numbers, decimals)
 *
 * Counts the numbers among the first `columns` words after the keyword of each whole line. `decimals` is the number of
 * bytes after the point that all numbers have; -1 if the numbers differ in it.
 */
PyObject *count_decimals(PyObject *module, PyObject *arguments)
{
    (void)module;
    Py_buffer text;
    Py_ssize_t columns;
    if (!PyArg_ParseTuple(arguments, "y*n:count_decimals", &text, &columns))
        return NULL;
    Text at = text.buf, stop = at + text.len;
    Py_ssize_t numbers = 0, decimals = -1;
    int differ = 0;
    while (at < stop) {
        Text end = memchr(at, '\n', (size_t)(stop - at));
        if (end == NULL)
            break;
        for (Py_ssize_t word = 0; word <= columns; word++) {
            while (at < end && is_space(*at))
                at++;
            Text point = NULL;
            Text first = at;
            for (; at < end && !is_space(*at); at++)
                if (*at == '.' && point == NULL)
                    point = at;
            if (at == first)
                break;
            if (word == 0)
                continue;
            Py_ssize_t own = point == NULL ? 0 : at - point - 1;
            differ |= numbers > 0 && own != decimals;
            decimals = own;
            numbers++;
        }
        at = end + 1;
    }
    PyBuffer_Release(&text);
    return Py_BuildValue("(nn)", numbers, differ ? (Py_ssize_t)-1 : decimals);
}
