/* Reads lines of numbers as float64, correctly rounded.
 *
 * Integers up to 2^53 and powers of ten up to 10^22 are exact in float64, and IEEE division and multiplication round
 * correctly (W. D. Clinger, How to read floating point numbers accurately, 1990). Numbers of up to 19 digits with a
 * power of ten in the table are read as in D. Lemire, Number parsing at a gigabyte per second, 2021. Any other number
 * is in doubt, and the caller reads it again.
 */
#include "spans.h"

#define MOST_DIGITS 19          /* any integer with this many digits fits in 64 bits */
#define LARGEST_EXPONENT 290    /* of ten; above it, a number might be too large for float64 */
#define EXPONENT_DIGITS 8
#define MOST_POWER 64           /* the table holds the powers of five from -MOST_POWER to MOST_POWER */
#define POWERS_BYTES ((2 * MOST_POWER + 1) * 16)

typedef struct {
    double value;
    int64_t decimals; /* digits after the point minus the exponent */
    int in_doubt;
} Number;

static const double EXACT_TENS[] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9,  1e10, 1e11,
                                    1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};
static const uint64_t TENS[] = {1, 10, 100, 1000, 10000, 100000, 1000000, 10000000, 100000000};

static int leading_zeros(uint64_t word)
{
#if defined(__GNUC__)
    return __builtin_clzll(word);
#else
    int count = 0;
    for (; !(word >> 63); word <<= 1)
        count++;
    return count;
#endif
}

/* The lower 64 bits of the product; the upper 64 bits are written to `high`. */
static uint64_t multiply(uint64_t a, uint64_t b, uint64_t *high)
{
#if defined(__SIZEOF_INT128__)
    unsigned __int128 product = (unsigned __int128)a * b;
    *high = (uint64_t)(product >> 64);
    return (uint64_t)product;
#else
    uint64_t a_low = (uint32_t)a, a_high = a >> 32, b_low = (uint32_t)b, b_high = b >> 32;
    uint64_t low = a_low * b_low, one = a_high * b_low, other = a_low * b_high;
    uint64_t middle = (low >> 32) + (uint32_t)one + (uint32_t)other;
    *high = a_high * b_high + (one >> 32) + (other >> 32) + (middle >> 32);
    return (middle << 32) | (uint32_t)low;
#endif
}

/* Writes digits * 10^power, correctly rounded, to `value`, for digits > 0 and a power in the table. Returns 0 if the
 * rounding is in doubt.
 */
static int scale(uint64_t digits, int power, const uint64_t *powers, double *value)
{
    int shift = leading_zeros(digits);
    const uint64_t *five = powers + 2 * (power + MOST_POWER);
    uint64_t high, low = multiply(digits << shift, five[0], &high);
    if ((high & 0x1FF) == 0x1FF) { /* the other 64 bits of the power might change the rounding */
        uint64_t more;
        multiply(digits << shift, five[1], &more);
        low += more;
        high += low < more;
    }
    if (low == UINT64_MAX)
        return 0;
    int upper = (int)(high >> 63);
    uint64_t mantissa = high >> (upper + 9); /* 53 bits, and one more for rounding */
    int64_t exponent = ((217706 * (int64_t)power) >> 16) + 63 + upper - shift + 1023;
    /* A tie is possible only if the product is exact. It is rounded to the even neighbour. */
    if (low <= 1 && power >= -4 && power <= 23 && (mantissa & 3) == 1 && mantissa << (upper + 9) == high)
        mantissa &= ~(uint64_t)1;
    mantissa = (mantissa + (mantissa & 1)) >> 1;
    if (mantissa >> 53) {
        mantissa >>= 1;
        exponent++;
    }
    uint64_t bits = (mantissa & ~((uint64_t)1 << 52)) | (uint64_t)exponent << 52;
    memcpy(value, &bits, sizeof bits);
    return 1;
}

/* Appends the digits from `at` on to the number, eight at a time, modulo 2^64. Returns the byte after the digits. */
static inline Text join_digits(Text at, Text stop, uint64_t *number)
{
    while (stop - at >= 8) {
        uint64_t word = digits_at(at);
        int count = count_digits(word);
        if (count == 0)
            return at;
        *number = *number * TENS[count] + join_word(word, count);
        at += count;
        if (count < 8)
            return at;
    }
    for (; at < stop && is_digit(*at); at++)
        *number = *number * 10 + (*at - '0');
    return at;
}

/* The byte after the number that begins at `at`; NULL if there is no number, or it may be too large for float64. */
static inline Text read_number(Text at, Text stop, const uint64_t *powers, Number *number)
{
    int negative = 0;
    if (at < stop && (*at == '-' || *at == '+'))
        negative = *at++ == '-';
    Text first = at;
    uint64_t digits = 0;
    for (; at < stop && is_digit(*at); at++)
        digits = digits * 10 + (*at - '0');
    int64_t whole = at - first, fraction = 0, exponent = 0;
    if (at < stop && *at == '.') {
        Text point = ++at;
        at = join_digits(at, stop, &digits);
        fraction = at - point;
    }
    if (whole + fraction == 0)
        return NULL;
    if (at < stop && (*at | 0x20) == 'e') {
        int below = 0;
        at++;
        if (at < stop && (*at == '-' || *at == '+'))
            below = *at++ == '-';
        first = at;
        for (; at < stop && is_digit(*at); at++) {
            if (at - first == EXPONENT_DIGITS)
                return NULL;
            exponent = exponent * 10 + (*at - '0');
        }
        if (at == first)
            return NULL;
        exponent = below ? -exponent : exponent;
    }
    int64_t power = exponent - fraction;
    number->decimals = -power;
    number->in_doubt = 0;
    double value = 0.0;
    if (whole + exponent > LARGEST_EXPONENT)
        return NULL;
    if (whole + fraction > MOST_DIGITS)
        number->in_doubt = 1;
    else if (digits <= (uint64_t)1 << 53 && power >= -22 && power <= 22)
        value = power < 0 ? (double)digits / EXACT_TENS[-power] : (double)digits * EXACT_TENS[power];
    else if (digits != 0)
        number->in_doubt = power < -MOST_POWER || power > MOST_POWER || !scale(digits, (int)power, powers, &value);
    number->value = negative ? -value : value;
    return at;
}

/* read_numbers(text, start, keyword, columns, powers, values, doubts) -> (rows, position, decimals, doubts)
 *
 * Reads whole lines from `start` on, each with the keyword and `columns` numbers, into `values` (float64). Stops at a
 * line in a different form, or if a buffer is full; `position` is the start of the first line that was not read. For
 * each number in doubt, its index in values and the start and stop of its text are written to `doubts` (int64).
 */
PyObject *read_numbers(PyObject *module, PyObject *arguments)
{
    (void)module;
    Py_buffer text, keyword, powers, values, doubts;
    Py_ssize_t start, columns;
    if (!PyArg_ParseTuple(arguments, "y*ny*ny*w*w*:read_numbers", &text, &start, &keyword, &columns, &powers, &values,
                          &doubts))
        return NULL;
    PyObject *result = NULL;
    if (columns < 1 || powers.len != POWERS_BYTES) {
        PyErr_SetString(PyExc_ValueError, "no columns, or not the table of powers");
        goto release;
    }
    if (!is_inside(start, text.len) || !is_aligned(&powers, sizeof(uint64_t)) || !is_aligned(&values, sizeof(double)) ||
        !is_aligned(&doubts, sizeof(int64_t)))
        goto release;

    Text begin = text.buf, stop = begin + text.len, line = begin + start;
    double *value = values.buf;
    int64_t *doubt = doubts.buf;
    Py_ssize_t room = values.len / (Py_ssize_t)sizeof *value / columns;
    Py_ssize_t doubts_room = doubts.len / (Py_ssize_t)sizeof *doubt / 3;
    Py_ssize_t rows = 0, in_doubt = 0;
    int64_t decimals = 0;

    BEGIN_WORK(stop - line)
    while (line < stop && rows < room) {
        Text at = skip_keyword(line, stop, keyword.buf, keyword.len);
        Py_ssize_t column = 0, doubts_before = in_doubt;
        int64_t most = decimals;
        for (; at != NULL && column < columns; column++) {
            Number number;
            Text token = skip_blanks(at, stop);
            if (token == at) /* no blank before it */
                break;
            at = read_number(token, stop, powers.buf, &number);
            if (at == NULL || (number.in_doubt && in_doubt == doubts_room))
                break;
            if (number.in_doubt) {
                doubt[3 * in_doubt] = rows * columns + column;
                doubt[3 * in_doubt + 1] = token - begin;
                doubt[3 * in_doubt + 2] = at - begin;
                in_doubt++;
            }
            value[rows * columns + column] = number.value;
            most = number.decimals > most ? number.decimals : most;
        }
        at = at != NULL && column == columns ? end_line(at, stop, line) : NULL;
        if (at == NULL) {
            in_doubt = doubts_before;
            break;
        }
        decimals = most;
        line = at;
        rows++;
    }
    END_WORK

    result = Py_BuildValue("(nnLn)", rows, (Py_ssize_t)(line - begin), (long long)decimals, in_doubt);
release:
    PyBuffer_Release(&text);
    PyBuffer_Release(&keyword);
    PyBuffer_Release(&powers);
    PyBuffer_Release(&values);
    PyBuffer_Release(&doubts);
    return result;
}
