/* Every cap of the language, the compiler and the machine, in one place.
 * Each has its row in spec/limits.md and a test at the limit and one past it. */
#ifndef GLOAM_CORE_LIMITS_H
#define GLOAM_CORE_LIMITS_H

enum {
    LIMIT_SOURCE_BYTES = 1 << 20,   /* bytes of one file */
    LIMIT_FILES = 64,               /* files of one program, `use` followed */
    LIMIT_TOKENS = 200000,          /* tokens of one file */
    LIMIT_ERRORS = 500,             /* errors of syntax in one file; the rest is not looked at */
    LIMIT_NODES = 200000,           /* syntax nodes of one file */
    LIMIT_HEIGHT = 200,             /* how deep an expression may nest */
    LIMIT_NAME_BYTES = 64,          /* bytes of a name */
    LIMIT_TEXT_BYTES = 1024,        /* bytes of a text in quotes */
    LIMIT_DIGITS = 15,              /* significant digits of a number */
    LIMIT_STOPS = 256,              /* stops of one ramp */
    LIMIT_ARGUMENTS = 64,           /* arguments of one call */
    LIMIT_PARAMETERS = 16,          /* parameters of one function */
    LIMIT_EASING_POINTS = 256,      /* points of one linear(...), after parsing */
    LIMIT_EASING_STEPS = 1000,      /* n of steps(n) */
    LIMIT_DIALS = 256,              /* dials of a program */
    LIMIT_EVENTS = 256,             /* events of a program */
    LIMIT_ROUTINES = 256,           /* routines of a program */
    LIMIT_GROUPS = 256,             /* names asked for by within(...) in a program */
    LIMIT_VALUES = 60000,           /* values of one routine's graph after expansion */
    LIMIT_EXPANSIONS = 200000,      /* expressions expanded for one routine */
    LIMIT_EXPANSIONS_ALL = 4000000, /* the same for a whole program */
    LIMIT_DEPTH = 2000,             /* expressions within one another, names followed */
    LIMIT_INSTRUCTIONS = 16384,     /* instructions of one routine */
    LIMIT_REGISTERS = 8192,         /* registers of one kind in one routine */
    LIMIT_RAMPS = 4096,             /* ramps of one routine */
    LIMIT_EASINGS = 1024,           /* easings of one routine */
    LIMIT_PIXELS = 100000,          /* pixels of one lamp */
    LIMIT_LAMPS = 64,               /* lamps of one file */
    LIMIT_ENTRIES = 1024,           /* timetable entries of one file */
    LIMIT_OVERRIDES = 64,           /* overrides by hand at a time */
    LIMIT_OVERRIDE_DIALS = 16,      /* dials set by one play by hand */
    LIMIT_OVERRIDE_DAYS = 366,      /* days that one override by hand may be given */
    LIMIT_UNDO = 16,                /* acts by hand that can be taken back */
    LIMIT_STATE_BYTES = 1 << 20,    /* bytes of a state file */
    LIMIT_DIAGNOSTICS_SHOWN = 20,   /* printed; the rest is counted */
    LIMIT_PROGRAM_BYTES = 16 << 20, /* bytes of one bytecode file */
};

/* Durations are whole microseconds in a double, capped here (rule R15): 285 years. */
#define LIMIT_MICROSECONDS 9007199254740992.0

#endif
