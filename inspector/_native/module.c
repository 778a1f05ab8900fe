/* The extension module inspector._native._core. Its functions are typed and documented in _core.pyi. */
#include "spans.h"

static PyMethodDef FUNCTIONS[] = {
    {"read_numbers", read_numbers, METH_VARARGS, NULL},
    {"read_faces", read_faces, METH_VARARGS, NULL},
    {"find_run", find_run, METH_VARARGS, NULL},
    {"is_same", is_same, METH_VARARGS, NULL},
    {"find_special", find_special, METH_VARARGS, NULL},
    {"count_bytes", count_bytes, METH_VARARGS, NULL},
    {"has_odd_number", has_odd_number, METH_VARARGS, NULL},
    {"count_decimals", count_decimals, METH_VARARGS, NULL},
    {"measure_faces", measure_faces, METH_VARARGS, NULL},
    {"measure_box", measure_box, METH_VARARGS, NULL},
    {"measure_motion", measure_motion, METH_VARARGS, NULL},
    {"measure_tear", measure_tear, METH_VARARGS, NULL},
    {"count_lengths", count_lengths, METH_VARARGS, NULL},
    {"sort_sides", sort_sides, METH_VARARGS, NULL},
    {"find_components", find_components, METH_VARARGS, NULL},
    {"find_neighbours", find_neighbours, METH_VARARGS, NULL},
    {"connect_faces", connect_faces, METH_VARARGS, NULL},
    {"hash_faces", hash_faces, METH_VARARGS, NULL},
    {"find_alike", find_alike, METH_VARARGS, NULL},
    {"find_repeated", find_repeated, METH_VARARGS, NULL},
    {"add_steps", add_steps, METH_VARARGS, NULL},
    {"add_layers", add_layers, METH_VARARGS, NULL},
    {"measure_layout", measure_layout, METH_VARARGS, NULL},
    {"find_owners", find_owners, METH_VARARGS, NULL},
    {"resolve", resolve, METH_VARARGS, NULL},
    {NULL, NULL, 0, NULL},
};

/* Increased whenever the arguments or results of a function change. A module that was built before the change is not
   called (`inspector/_native/__init__.py`). */
#define INTERFACE 4

static int add_constants(PyObject *module) { return PyModule_AddIntConstant(module, "INTERFACE", INTERFACE); }

static PyModuleDef_Slot SLOTS[] = {{Py_mod_exec, add_constants}, {0, NULL}};

static struct PyModuleDef MODULE = {
    .m_base = PyModuleDef_HEAD_INIT,
    .m_name = "_core",
    .m_methods = FUNCTIONS,
    .m_slots = SLOTS,
};

PyMODINIT_FUNC PyInit__core(void) { return PyModuleDef_Init(&MODULE); }
