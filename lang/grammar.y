/* The grammar. Mistakes whose form is known are rules of their own, so that the rest of the file is
 * still looked at: their actions report through syntax_hints.c. HOLE, HOLE_HEADER and HOLE_PAREN are
 * what feed.c puts in the place of a statement, of the words between `routine` or `lamp` and
 * `{`, and of what stands in parentheses, when that was wrong and has been reported. BAD is a value
 * the lexer has reported. */
%name Grammar
%token_prefix TK_
%token_type {Token}
%extra_context {Syntax *s}
%stack_size 2700
%default_type {Node *}
%token_destructor { (void)s; (void)$$; }
%include {
#include "lang/syntax.h"
#include "runtime/core/limits.h"
#include "runtime/core/memory.h"

/* A library does not abort: the template's assertions are for coverage builds. */
#if !defined(YYCOVERAGE) && !defined(NDEBUG)
#define NDEBUG
#endif
#define Grammar_ENGINEALWAYSONSTACK 1

/* A NULL item is one of which nothing is left. */
#define BEGIN(node) ((node)->span.begin)
#define END(node) ((node)->span.end)
}
%code {
/* A look that does not count as a visit where visits are counted. */
static YYACTIONTYPE grammar_look(int kind, YYACTIONTYPE state) {
#if defined(YYCOVERAGE)
    unsigned char visited = state <= YY_MAX_SHIFT ? yycoverage[state][kind] : 0;
#endif
    YYACTIONTYPE action = yy_find_shift_action((YYCODETYPE)kind, state);
#if defined(YYCOVERAGE)
    if (state <= YY_MAX_SHIFT)
        yycoverage[state][kind] = visited;
#endif
    return action;
}

/* Whether `kind` could be shifted if the stack ended at `base`: reductions are only simulated, on
 * states laid over the real ones, since table compression lets some happen too early otherwise. */
static bool grammar_would_shift(const yyStackEntry *base, int kind) {
    enum { OVERLAY = 64 };
    YYACTIONTYPE over[OVERLAY];
    int count = 0;
    for (;;) {
        YYACTIONTYPE action = grammar_look(kind, count ? over[count - 1] : base->stateno);
        if (action <= YY_MAX_SHIFTREDUCE || action == YY_ACCEPT_ACTION)
            return true;
        if (action < YY_MIN_REDUCE)
            return false;
        unsigned rule = (unsigned)action - YY_MIN_REDUCE;
        int pop = -yyRuleInfoNRhs[rule];
        for (; pop > 0 && count > 0; pop--)
            count--;
        base -= pop;
        if (count == OVERLAY)
            return true;
        over[count] = yy_find_reduce_action(count ? over[count - 1] : base->stateno,
                                            yyRuleInfoLhs[rule]);
        count++;
    }
}

bool grammar_accepts(const void *grammar, int kind) {
    return grammar_would_shift(((const yyParser *)grammar)->yytos, kind);
}

/* Whether a state shifts `kind` itself, at most after rules without symbols. */
static bool grammar_shifts(YYACTIONTYPE state, int kind) {
    while (state <= YY_MAX_SHIFT) {
        YYACTIONTYPE action = grammar_look(kind, state);
        if (action <= YY_MAX_SHIFTREDUCE)
            return true;
        if (action < YY_MIN_REDUCE || yyRuleInfoNRhs[action - YY_MIN_REDUCE] != 0)
            return false;
        state = yy_find_reduce_action(state, yyRuleInfoLhs[action - YY_MIN_REDUCE]);
    }
    return false;
}

int grammar_distance(const void *grammar, int kind) {
    const yyParser *parser = grammar;
    for (const yyStackEntry *at = parser->yytos; at >= parser->yystack; at--)
        if (grammar_shifts(at->stateno, kind))
            return (int)(parser->yytos - at);
    return -1;
}

void grammar_drop(void *grammar, int count) {
    while (count-- > 0)
        yy_pop_parser_stack(grammar);
}

bool grammar_is_full(const void *grammar) {
    const yyParser *parser = grammar;
    return parser->yystackEnd - parser->yytos < 64;
}

bool grammar_is_soft(int kind) { return yyFallback[kind] == TK_NAME; }

int grammar_token_count(void) { return YYNTOKEN; }

void *grammar_create(Syntax *s) {
    yyParser *parser = memory_allocate(1, sizeof *parser);
    if (parser)
        GrammarInit(parser, s);
    return parser;
}

void grammar_free(void *grammar) {
    if (grammar)
        GrammarFinalize(grammar);
    memory_release(grammar);
}

void grammar_feed(void *grammar, Token token) { Grammar(grammar, token.kind, token); }
}

%syntax_error { (void)yymajor; (void)TOKEN; s->gave_up = true; }
%parse_failure { s->gave_up = true; }
%stack_overflow { s->gave_up = true; }

%type stops {NodeList}
%type bands {NodeList}
%type params {NodeList}
%type body {NodeList}
%type args {NodeList}
%type easeargs {NodeList}
%type moments {NodeList}
%type daylist {NodeList}
%type monthlist {NodeList}
%type datelist {NodeList}
%type settings {NodeList}
%type props {NodeList}
%type runs {NodeList}
%type back {int}
%type relation {Token}

/* soft words: names everywhere the grammar does not want the word itself */
%fallback NAME
  AS FROM TO EASED LASTS EASE EASEFN HUEDIR HUE
  ZONE SUN DAYS OF UNTIL EXCEPT AFTER BEFORE FOR KEEP LEVEL UNDER WEEKDAY MONTH
  PIXELS SHAPE CHIP PORT ORDER SUPPLY WHITE STRIP RING GRID BY ZIGZAG BALL POINTS
  CLOCK IS SET WITH PLACE FADING EVENT EACH THROUGHOUT GROUP DRAWS IDLE GAIN DIE DITHER REPAINT
  ENDS FLASHES UNIVERSE PRIORITY FACES TWILIGHT DAWN PART TURNED MIRRORED.

%nonassoc IFPREC.
%nonassoc ELSE.
%left OR.
%left AND.
%right NOT.
%left PLUS MINUS.
%left STAR SLASH REMAINDER.
%right NEG.

%start_symbol file
file ::= items.
items ::= .
items ::= items item(I). { syntax_item(s, I); }
item(R) ::= HOLE. { R = NULL; }

/* ---- declarations ---- */
item(R) ::= USE(U) STRING(T). {
    R = node_text(s, NODE_USE, T);
    R->span.begin = U.begin;
}
item(R) ::= USE(U) STRING(T) AS NAME(N). {
    R = node_text(s, NODE_USE, T);
    R->span.begin = U.begin;
    R->a = node_word(s, NODE_NAME, N);
    R = node_extend(s, R, N.end);
}
item(R) ::= let(L). { R = L; }
item(R) ::= dial(D). { R = D; }
item(R) ::= layer(L). { hint_layer_outside(s, L); R = NULL; }

dial(R) ::= DIAL(D) NAME(N) EQUALS add(E). {
    R = node_make(s, NODE_DIAL, D.begin, END(E), node_word(s, NODE_NAME, N), E, NULL);
}
dial(R) ::= DIAL(D) NAME(N) HOLE. {
    R = node_make(s, NODE_DIAL, D.begin, N.end, node_word(s, NODE_NAME, N),
                  node_hole(s, N.end, N.end), NULL);
}
dial(R) ::= dial(D) FROM(F) add(A) TO add(B). {
    if (D->c)
        hint_twice(s, "from", F.begin, F.end);
    D->c = A;
    D->d = B;
    R = node_extend(s, D, END(B));
}
dial(R) ::= dial(D) EASED(K) add(E). {
    if (D->e)
        hint_twice(s, "eased", K.begin, K.end);
    D->e = E;
    R = node_extend(s, D, END(E));
}
dial(R) ::= dial(D) STRING(T). {
    if (D->text)
        hint_label_twice(s, T);
    D->text = node_text(s, NODE_TEXT, T)->text;
    R = node_extend(s, D, T.end);
}

item(R) ::= EVENT(E) NAME(N). {
    R = node_make(s, NODE_EVENT, E.begin, N.end, node_word(s, NODE_NAME, N), NULL, NULL);
}
item(R) ::= EVENT(E) NAME(N) STRING(T). {
    R = node_make(s, NODE_EVENT, E.begin, T.end, node_word(s, NODE_NAME, N), NULL, NULL);
    R->text = node_text(s, NODE_TEXT, T)->text;
}

let(R) ::= LET(L) NAME(N) EQUALS expr(E). {
    R = node_make(s, NODE_LET, L.begin, END(E), node_word(s, NODE_NAME, N), NULL, E);
}
let(R) ::= LET(L) NAME(N) LPAREN params(P) RPAREN EQUALS expr(E). {
    if (P.count > LIMIT_PARAMETERS)
        syntax_error(s, "too-many-parameters", BEGIN(P.first), END(P.last), NULL,
                     "a function has at most %d parameters, this has %u", LIMIT_PARAMETERS, P.count);
    R = node_make(s, NODE_LET, L.begin, END(E), node_word(s, NODE_NAME, N), P.first, E);
}
let(R) ::= LET(L) NAME(N) HOLE. {
    R = node_make(s, NODE_LET, L.begin, N.end, node_word(s, NODE_NAME, N), NULL,
                  node_hole(s, N.end, N.end));
}
let(R) ::= LET(L) NAME(N) EQUALS(Q) HOLE. {
    R = node_make(s, NODE_LET, L.begin, Q.end, node_word(s, NODE_NAME, N), NULL,
                  node_hole(s, Q.end, Q.end));
}
let(R) ::= LET(L) NAME(N) LPAREN params(P) RPAREN EQUALS(Q) HOLE. {
    R = node_make(s, NODE_LET, L.begin, Q.end, node_word(s, NODE_NAME, N), P.first,
                  node_hole(s, Q.end, Q.end));
}
params(R) ::= NAME(N). { R = list_one(node_word(s, NODE_NAME, N)); }
params(R) ::= params(P) COMMA NAME(N). { R = list_add(P, node_word(s, NODE_NAME, N)); }

/* ---- routines ---- */
item(R) ::= header(H) LBRACE body(B) RBRACE(E). {
    H->d = B.first;
    R = H->a ? node_extend(s, H, E.end) : NULL;
}
header(R) ::= ROUTINE(K) NAME(N). {
    R = node_make(s, NODE_ROUTINE, K.begin, N.end, node_word(s, NODE_NAME, N), NULL, NULL);
}
header(R) ::= ROUTINE(K) NAME(N) LASTS add(L). {
    R = node_make(s, NODE_ROUTINE, K.begin, END(L), node_word(s, NODE_NAME, N), L, NULL);
}
header(R) ::= ROUTINE(K) NAME(N) LASTS add(L) THEN NAME(T). {
    R = node_make(s, NODE_ROUTINE, K.begin, T.end, node_word(s, NODE_NAME, N), L,
                  node_word(s, NODE_NAME, T));
}
header(R) ::= ROUTINE(K) NAME(N) THEN(W) NAME(T). {
    hint_then_without_lasts(s, W);
    R = node_make(s, NODE_ROUTINE, K.begin, T.end, node_word(s, NODE_NAME, N),
                  node_hole(s, W.begin, W.end), node_word(s, NODE_NAME, T));
}
header(R) ::= ROUTINE(K) NAME(N) HOLE_HEADER. {
    R = node_make(s, NODE_ROUTINE, K.begin, N.end, node_word(s, NODE_NAME, N),
                  node_hole(s, N.end, N.end), NULL);
}
header(R) ::= ROUTINE(K) HOLE_HEADER. {
    R = node_make(s, NODE_ROUTINE, K.begin, K.end, NULL, NULL, NULL);
}
item(R) ::= ROUTINE(K) NAME(N) HOLE. {
    R = node_make(s, NODE_ROUTINE, K.begin, N.end, node_word(s, NODE_NAME, N),
                  node_hole(s, N.end, N.end), NULL);
}
body(R) ::= . { R = (NodeList){NULL, NULL, 0}; }
body(R) ::= body(B) let(L). { R = list_add(B, L); }
body(R) ::= body(B) layer(L). { R = list_add(B, L); }
body(R) ::= body(B) HOLE. { R = B; }

layer(R) ::= PAINT(P) expr(E). { R = node_make(s, NODE_PAINT, P.begin, END(E), E, NULL, NULL); }
layer(R) ::= layer(L) BLENDED(K) cssname(N). {
    if (L->b)
        hint_twice(s, "blended", K.begin, K.end);
    L->b = N;
    R = node_extend(s, L, END(N));
}
layer(R) ::= layer(L) WHERE(K) expr(E). {
    if (L->c)
        hint_twice(s, "where", K.begin, K.end);
    L->c = E;
    R = node_extend(s, L, END(E));
}
cssname(R) ::= NAME(N). { R = node_word(s, NODE_NAME, N); }
cssname(R) ::= HYPHENNAME(N). { R = node_word(s, NODE_NAME, N); }

/* ---- expressions ---- */
expr(R) ::= IF(I) expr(C) THEN expr(A) ELSE expr(B). [IFPREC] {
    R = node_make(s, NODE_IF, I.begin, END(B), C, A, B);
}
expr(R) ::= IF(I) expr(C) THEN expr(A). [IFPREC] {
    hint_no_else(s, A);
    R = node_make(s, NODE_IF, I.begin, END(A), C, A, node_hole(s, END(A), END(A)));
}
expr(R) ::= timed(T). { R = T; }
timed(R) ::= logic(L). { R = L; }
timed(R) ::= ramp(A). { R = A; }
timed(R) ::= timed(T) DELAYED add(D). {
    R = node_make(s, NODE_DELAYED, BEGIN(T), END(D), T, D, NULL);
}

ramp(R) ::= stops(S) back(B) driver(D) ease(E) space(P). {
    R = node_ramp(s, (unsigned)B, S, D, E, P);
}
ramp(R) ::= bands(S) back(B) driver(D) ease(E) space(P). {
    R = node_ramp(s, RAMP_BARS | (unsigned)B, S, D, E, P);
}
ramp(R) ::= stops(S). { hint_no_driver(s, S.last); R = node_hole(s, BEGIN(S.first), END(S.last)); }
ramp(R) ::= bands(S). { hint_no_driver(s, S.last); R = node_hole(s, BEGIN(S.first), END(S.last)); }
ramp(R) ::= stops(S) space_first(P). {
    hint_no_driver(s, P);
    R = node_hole(s, BEGIN(S.first), END(P));
}
ramp(R) ::= bands(S) space_first(P). {
    hint_no_driver(s, P);
    R = node_hole(s, BEGIN(S.first), END(P));
}
ramp(R) ::= stops(S) space_first(P) back(B) driver(D) ease(E). {
    hint_space_first(s, P, D);
    R = node_ramp(s, (unsigned)B, S, D, E, NULL);
    R->d = R->kind == NODE_RAMP ? P : NULL;
}
ramp(R) ::= bands(S) space_first(P) back(B) driver(D) ease(E). {
    hint_space_first(s, P, D);
    R = node_ramp(s, RAMP_BARS | (unsigned)B, S, D, E, NULL);
    R->d = R->kind == NODE_RAMP ? P : NULL;
}
ramp(R) ::= stop(S) back driver(D) ease space. {
    hint_no_ramp(s, S, D);
    R = node_hole(s, BEGIN(S), END(D));
}
back(R) ::= . { R = 0; }
back(R) ::= ANDBACK. { R = RAMP_BACK; }
back(R) ::= ANDROUND. { R = RAMP_ROUND; }
stops(R) ::= stop(A) ARROW stop(B). { R = list_add(list_one(A), B); }
stops(R) ::= stops(L) ARROW stop(B). { R = list_add(L, B); }
bands(R) ::= stop(A) BAR stop(B). { R = list_add(list_one(A), B); }
bands(R) ::= bands(L) BAR stop(B). { R = list_add(L, B); }
stop(R) ::= logic(V) at(P) ease(E). {
    uint32_t end = E ? END(E) : P ? END(P) : END(V);
    R = node_make(s, NODE_STOP, BEGIN(V), end, V, P, E);
}
at(R) ::= . { R = NULL; }
at(R) ::= AT add(P). { R = P; }
driver(R) ::= OVER(K) add(E). {
    R = node_make(s, NODE_DRIVER, K.begin, END(E), E, NULL, NULL);
    R->word = DRIVER_OVER;
}
driver(R) ::= EVERY(K) add(E). {
    R = node_make(s, NODE_DRIVER, K.begin, END(E), E, NULL, NULL);
    R->word = DRIVER_EVERY;
}
driver(R) ::= FOR(K) add(E) EACH(L). {
    R = node_make(s, NODE_DRIVER, K.begin, L.end, E, NULL, NULL);
    R->word = DRIVER_FOR_EACH;
}
driver(R) ::= THROUGHOUT(K). {
    R = node_leaf(s, NODE_DRIVER, K);
    R->word = DRIVER_THROUGHOUT;
}
driver(R) ::= ALONG(K) add(E). {
    R = node_make(s, NODE_DRIVER, K.begin, END(E), E, NULL, NULL);
    R->word = DRIVER_ALONG;
}
ease(R) ::= . { R = NULL; }
ease(R) ::= easing(E). { R = E; }
easing(R) ::= EASE(W). { R = node_word(s, NODE_EASING, W); }
easing(R) ::= EASEFN(W). { hint_bare_easing(s, W); R = node_hole(s, W.begin, W.end); }
easing(R) ::= EASEFN(W) LPAREN easeargs(A) RPAREN(E). {
    R = node_word(s, NODE_EASING, W);
    R->a = A.first;
    R = node_extend(s, R, E.end);
}
easing(R) ::= EASEFN(W) LPAREN HOLE_PAREN RPAREN(E). { R = node_hole(s, W.begin, E.end); }
easeargs(R) ::= easearg(A). { R = list_one(A); }
easeargs(R) ::= easeargs(L) COMMA easearg(A). { R = list_add(L, A); }
easearg(R) ::= add(E). {
    R = node_make(s, NODE_EASING_ARGUMENT, BEGIN(E), END(E), E, NULL, NULL);
}
easearg(R) ::= add(E) PERCENT(B). {
    R = node_make(s, NODE_EASING_ARGUMENT, BEGIN(E), B.end, E, node_leaf(s, NODE_PERCENT, B), NULL);
}
easearg(R) ::= add(E) PERCENT(B) PERCENT(C). {
    R = node_make(s, NODE_EASING_ARGUMENT, BEGIN(E), C.end, E, node_leaf(s, NODE_PERCENT, B),
                  node_leaf(s, NODE_PERCENT, C));
}
easearg(R) ::= HYPHENNAME(N). { R = node_word(s, NODE_EASING_ARGUMENT, N); }
space(R) ::= . { R = NULL; }
space(R) ::= space_first(S). { R = S; }
space_first(R) ::= IN(I) cssname(N). {
    R = node_make(s, NODE_SPACE, I.begin, END(N), N, NULL, NULL);
}
space_first(R) ::= IN(I) cssname(N) HUEDIR(D) HUE(H). {
    R = node_make(s, NODE_SPACE, I.begin, H.end, N, node_word(s, NODE_NAME, D), NULL);
}

logic(R) ::= logic(A) OR logic(B). { R = node_binary(s, BINARY_OR, A, B); }
logic(R) ::= logic(A) AND logic(B). { R = node_binary(s, BINARY_AND, A, B); }
logic(R) ::= NOT(N) logic(A). { R = node_make(s, NODE_NOT, N.begin, END(A), A, NULL, NULL); }
logic(R) ::= comparison(C). { R = C; }
logic(R) ::= add(A). { R = A; }
comparison(R) ::= add(A) relation(O) add(B). {
    R = node_binary(s, (Binary)(int)O.number, A, B);
}
comparison(R) ::= comparison(A) relation(O) add(B). {
    hint_chained(s, A, O, B);
    R = node_hole(s, BEGIN(A), END(B));
}
relation(R) ::= EQ(T). { R = T; R.number = BINARY_EQUAL; }
relation(R) ::= NE(T). { R = T; R.number = BINARY_NOT_EQUAL; }
relation(R) ::= LT(T). { R = T; R.number = BINARY_LESS; }
relation(R) ::= LE(T). { R = T; R.number = BINARY_LESS_EQUAL; }
relation(R) ::= GT(T). { R = T; R.number = BINARY_GREATER; }
relation(R) ::= GE(T). { R = T; R.number = BINARY_GREATER_EQUAL; }
add(R) ::= add(A) PLUS add(B). { R = node_binary(s, BINARY_ADD, A, B); }
add(R) ::= add(A) MINUS add(B). { R = node_binary(s, BINARY_SUBTRACT, A, B); }
add(R) ::= add(A) STAR add(B). { R = node_binary(s, BINARY_MULTIPLY, A, B); }
add(R) ::= add(A) SLASH add(B). { R = node_binary(s, BINARY_DIVIDE, A, B); }
add(R) ::= add(A) REMAINDER(T) add(B). {
    hint_remainder(s, A, T, B);
    R = node_hole(s, BEGIN(A), END(B));
}
add(R) ::= MINUS(M) add(A). [NEG] {
    R = node_make(s, NODE_NEGATE, M.begin, END(A), A, NULL, NULL);
}
add(R) ::= prim(P). { R = P; }
prim(R) ::= NUMBER(T). { R = node_leaf(s, NODE_NUMBER, T); }
prim(R) ::= PERCENT(T). { R = node_leaf(s, NODE_PERCENT, T); }
prim(R) ::= DURATION(T). { R = node_leaf(s, NODE_DURATION, T); }
prim(R) ::= ANGLE(T). { R = node_leaf(s, NODE_ANGLE, T); }
prim(R) ::= KELVIN(T). { R = node_leaf(s, NODE_KELVIN, T); }
prim(R) ::= TIME(T). { R = node_leaf(s, NODE_CLOCK, T); }
prim(R) ::= COLOUR(T). { R = node_leaf(s, NODE_COLOUR, T); }
prim(R) ::= TRUE(T). { R = node_leaf(s, NODE_TRUTH, T); }
prim(R) ::= FALSE(T). { R = node_leaf(s, NODE_TRUTH, T); }
prim(R) ::= BAD(T). { R = node_hole(s, T.begin, T.end); }
prim(R) ::= named(N). { R = N; }
prim(R) ::= named(N) LPAREN args(A) RPAREN(E). {
    if (A.count > LIMIT_ARGUMENTS)
        syntax_error(s, "too-many-arguments", BEGIN(A.first), END(A.last), NULL,
                     "a call has at most %d arguments, this has %u", LIMIT_ARGUMENTS, A.count);
    R = node_make(s, NODE_CALL, BEGIN(N), E.end, N, A.first, NULL);
    check_colour_call(s, R);
}
prim(R) ::= named(N) LPAREN HOLE_PAREN RPAREN(E). { R = node_hole(s, BEGIN(N), E.end); }
prim(R) ::= EASECALL(K) LPAREN expr(A) COMMA easing(B) RPAREN(E). {
    R = node_make(s, NODE_EASE, K.begin, E.end, A, B, NULL);
}
prim(R) ::= EASECALL(K) LPAREN HOLE_PAREN RPAREN(E). { R = node_hole(s, K.begin, E.end); }
prim(R) ::= LPAREN(B) expr(A) RPAREN(E). {
    R = node_make(s, NODE_PARENS, B.begin, E.end, A, NULL, NULL);
}
prim(R) ::= LPAREN(B) HOLE_PAREN RPAREN(E). { R = node_hole(s, B.begin, E.end); }
named(R) ::= NAME(N). { R = node_word(s, NODE_NAME, N); }
named(R) ::= NAME(P) DOT NAME(N). {
    R = node_make(s, NODE_MEMBER, P.begin, N.end, node_word(s, NODE_NAME, P),
                  node_word(s, NODE_NAME, N), NULL);
}
args(R) ::= expr(A). { R = list_one(A); }
args(R) ::= args(L) COMMA expr(A). { R = list_add(L, A); }

/* ---- timetable ---- */
item(R) ::= PLACE(K) coord(A) COMMA coord(B). {
    R = node_make(s, NODE_PLACE, K.begin, END(B), A, B, NULL);
}
item(R) ::= PLACE(K) coord(A) COMMA coord(B) ZONE STRING(T). {
    R = node_make(s, NODE_PLACE, K.begin, T.end, A, B, NULL);
    R->text = node_text(s, NODE_TEXT, T)->text;
}
coord(R) ::= NUMBER(N). { R = node_leaf(s, NODE_NUMBER, N); }
coord(R) ::= MINUS(M) NUMBER(N). {
    R = node_make(s, NODE_NEGATE, M.begin, N.end, node_leaf(s, NODE_NUMBER, N), NULL, NULL);
}
item(R) ::= UNTILCLOCK(U) CLOCK IS SET PLAY named(N). {
    R = node_make(s, NODE_UNTIL_CLOCK, U.begin, END(N), N, NULL, NULL);
}
item(R) ::= entry(E) play(P). {
    E->d = P;
    R = node_extend(s, E, END(P));
}
entry(R) ::= ATMOMENT(K) moments(M). {
    R = node_make(s, NODE_ENTRY, K.begin, END(M.last), M.first, NULL, NULL);
    R->word = ENTRY_AT;
}
entry(R) ::= BYMOMENT(K) moments(M). {
    R = node_make(s, NODE_ENTRY, K.begin, END(M.last), M.first, NULL, NULL);
    R->word = ENTRY_BY;
}
entry(R) ::= entry(E) bound(B). {
    hint_clause_twice(s, E->b, B);
    node_append(&E->b, B);
    R = node_extend(s, E, END(B));
}
entry(R) ::= entry(E) dayclause(D). {
    hint_clause_twice(s, E->c, D);
    node_append(&E->c, D);
    R = node_extend(s, E, END(D));
}
entry(R) ::= entry(E) onlamp(L). { hint_early_lamp(s, L); R = E; }
item(R) ::= WHEN(W) expr(E) play(P). {
    R = node_make(s, NODE_WHEN, W.begin, END(P), E, NULL, NULL);
    R->d = P;
    R = node_extend(s, R, END(P));
}
item(R) ::= between(B) KEEP LEVEL UNDER add(E). {
    B->d = E;
    R = node_extend(s, B, END(E));
}
item(R) ::= between(B) KEEP LEVEL UNDER add(E) onlamp(L). {
    B->d = E;
    B->e = L;
    R = node_extend(s, B, END(L));
}
between(R) ::= BETWEEN(K) moment(A) AND moment(B). {
    R = node_make(s, NODE_BETWEEN, K.begin, END(B), A, B, NULL);
}
between(R) ::= between(B) dayclause(D). {
    hint_clause_twice(s, B->c, D);
    node_append(&B->c, D);
    R = node_extend(s, B, END(D));
}
moments(R) ::= moment(M). { R = list_one(M); }
moments(R) ::= moments(L) COMMA moment(M). { R = list_add(L, M); }
moments(R) ::= TIME(A) DOTDOT TIME(B) EVERY DURATION(D). {
    R = list_one(node_make(s, NODE_MOMENT_RANGE, A.begin, D.end, node_leaf(s, NODE_CLOCK, A),
                           node_leaf(s, NODE_CLOCK, B), node_leaf(s, NODE_DURATION, D)));
}
moment(R) ::= TIME(T). { R = node_leaf(s, NODE_MOMENT, T); }
moment(R) ::= BAD(T). { R = node_hole(s, T.begin, T.end); }
moment(R) ::= sun(M). { R = M; }
moment(R) ::= sun(M) PLUS DURATION(D). {
    R = M;
    R->number = D.number;
    R->span.end = D.end;
}
moment(R) ::= sun(M) MINUS DURATION(D). {
    R = M;
    R->number = -D.number;
    R->span.end = D.end;
}
sun(R) ::= SUN(T). { R = node_sun(s, T, T); }
sun(R) ::= TWILIGHT(T) DAWN(D). { R = node_sun(s, T, D); }
bound(R) ::= NOT(N) BEFORE TIME(T). {
    R = node_make(s, NODE_BOUND, N.begin, T.end, node_leaf(s, NODE_CLOCK, T), NULL, NULL);
    R->word = BOUND_NOT_BEFORE;
}
bound(R) ::= NOT(N) AFTER TIME(T). {
    R = node_make(s, NODE_BOUND, N.begin, T.end, node_leaf(s, NODE_CLOCK, T), NULL, NULL);
    R->word = BOUND_NOT_AFTER;
}
bound(R) ::= ELSE(N) TIME(T). {
    R = node_make(s, NODE_BOUND, N.begin, T.end, node_leaf(s, NODE_CLOCK, T), NULL, NULL);
    R->word = BOUND_ELSE;
}
dayclause(R) ::= ON(K) daylist(L). {
    R = node_make(s, NODE_DAYS, K.begin, END(L.last), L.first, NULL, NULL);
    R->word = DAYS_WEEKDAYS;
}
dayclause(R) ::= ON(K) DAYS NUMBER(A) DOTDOT NUMBER(B) OF NUMBER(C). {
    NodeList numbers = list_one(node_leaf(s, NODE_NUMBER, A));
    numbers = list_add(numbers, node_leaf(s, NODE_NUMBER, B));
    numbers = list_add(numbers, node_leaf(s, NODE_NUMBER, C));
    R = node_make(s, NODE_DAYS, K.begin, C.end, numbers.first, NULL, NULL);
    R->word = DAYS_ROTA;
}
dayclause(R) ::= IN(K) monthlist(L). {
    R = node_make(s, NODE_DAYS, K.begin, END(L.last), L.first, NULL, NULL);
    R->word = DAYS_MONTHS;
}
dayclause(R) ::= FROM(K) DATE(D). {
    R = node_make(s, NODE_DAYS, K.begin, D.end, node_leaf(s, NODE_DATE, D), NULL, NULL);
    R->word = DAYS_FROM;
}
dayclause(R) ::= UNTIL(K) DATE(D). {
    R = node_make(s, NODE_DAYS, K.begin, D.end, node_leaf(s, NODE_DATE, D), NULL, NULL);
    R->word = DAYS_UNTIL;
}
dayclause(R) ::= EXCEPT(K) datelist(L). {
    R = node_make(s, NODE_DAYS, K.begin, END(L.last), L.first, NULL, NULL);
    R->word = DAYS_EXCEPT;
}
daylist(R) ::= dayrange(D). { R = list_one(D); }
daylist(R) ::= daylist(L) COMMA dayrange(D). { R = list_add(L, D); }
dayrange(R) ::= WEEKDAY(A). {
    R = node_make(s, NODE_RANGE, A.begin, A.end, node_leaf(s, NODE_WEEKDAY, A), NULL, NULL);
}
dayrange(R) ::= WEEKDAY(A) DOTDOT WEEKDAY(B). {
    R = node_make(s, NODE_RANGE, A.begin, B.end, node_leaf(s, NODE_WEEKDAY, A),
                  node_leaf(s, NODE_WEEKDAY, B), NULL);
}
monthlist(R) ::= monthrange(M). { R = list_one(M); }
monthlist(R) ::= monthlist(L) COMMA monthrange(M). { R = list_add(L, M); }
monthrange(R) ::= MONTH(A). {
    R = node_make(s, NODE_RANGE, A.begin, A.end, node_leaf(s, NODE_MONTH, A), NULL, NULL);
}
monthrange(R) ::= MONTH(A) DOTDOT MONTH(B). {
    R = node_make(s, NODE_RANGE, A.begin, B.end, node_leaf(s, NODE_MONTH, A),
                  node_leaf(s, NODE_MONTH, B), NULL);
}
datelist(R) ::= daterange(D). { R = list_one(D); }
datelist(R) ::= datelist(L) COMMA daterange(D). { R = list_add(L, D); }
daterange(R) ::= DATE(A). {
    R = node_make(s, NODE_RANGE, A.begin, A.end, node_leaf(s, NODE_DATE, A), NULL, NULL);
}
daterange(R) ::= DATE(A) DOTDOT DATE(B). {
    R = node_make(s, NODE_RANGE, A.begin, B.end, node_leaf(s, NODE_DATE, A),
                  node_leaf(s, NODE_DATE, B), NULL);
}
daterange(R) ::= dayrange(D). { R = D; }

play(R) ::= PLAY(K) named(N). { R = node_make(s, NODE_PLAY, K.begin, END(N), N, NULL, NULL); }
play(R) ::= play(P) WITH(K) settings(L). {
    if (P->b)
        hint_twice(s, "with", K.begin, K.end);
    P->b = L.first;
    R = node_extend(s, P, END(L.last));
}
play(R) ::= play(P) onlamp(L). {
    if (P->c)
        hint_twice(s, "on lamp", BEGIN(L), END(L));
    P->c = L;
    R = node_extend(s, P, END(L));
}
play(R) ::= play(P) FOR(K) add(E). {
    Node *end = node_make(s, NODE_FOR, K.begin, END(E), E, NULL, NULL);
    if (P->d)
        hint_second_end(s, P->d, end);
    P->d = end;
    R = node_extend(s, P, END(E));
}
play(R) ::= play(P) UNTIL(K) moment(M). {
    Node *end = node_make(s, NODE_UNTIL, K.begin, END(M), M, NULL, NULL);
    if (P->d)
        hint_second_end(s, P->d, end);
    P->d = end;
    R = node_extend(s, P, END(M));
}
play(R) ::= play(P) FADING(K) add(E). {
    if (P->e)
        hint_twice(s, "fading", K.begin, K.end);
    P->e = E;
    R = node_extend(s, P, END(E));
}
play(R) ::= play(P) dayclause(D). { hint_late_days(s, D); R = P; }
settings(R) ::= setting(A). { R = list_one(A); }
settings(R) ::= settings(L) COMMA setting(A). { R = list_add(L, A); }
setting(R) ::= named(N) EQUALS add(E). {
    R = node_make(s, NODE_SETTING, BEGIN(N), END(E), N, E, NULL);
}
onlamp(R) ::= ON(K) LAMP NAME(N). {
    R = node_make(s, NODE_ON_LAMP, K.begin, N.end, node_word(s, NODE_NAME, N), NULL, NULL);
}
onlamp(R) ::= ON(K) LAMP NAME(N) PART NAME(P). {
    R = node_make(s, NODE_ON_LAMP, K.begin, P.end, node_word(s, NODE_NAME, N),
                  node_word(s, NODE_NAME, P), NULL);
}

/* ---- lamps ---- */
item(R) ::= lamp(L) LBRACE props(P) RBRACE(E). {
    L->b = P.first;
    check_properties(s, P.first);
    R = L->a ? node_extend(s, L, E.end) : NULL;
}
lamp(R) ::= LAMP(K) NAME(N). {
    R = node_make(s, NODE_LAMP, K.begin, N.end, node_word(s, NODE_NAME, N), NULL, NULL);
}
lamp(R) ::= LAMP(K) NAME(N) HOLE_HEADER. {
    R = node_make(s, NODE_LAMP, K.begin, N.end, node_word(s, NODE_NAME, N), NULL, NULL);
}
lamp(R) ::= LAMP(K) HOLE_HEADER. { R = node_make(s, NODE_LAMP, K.begin, K.end, NULL, NULL, NULL); }
props(R) ::= . { R = (NodeList){NULL, NULL, 0}; }
props(R) ::= props(L) prop(P). { R = list_add(L, P); }
props(R) ::= props(L) HOLE. { R = L; }

prop(R) ::= PIXELS(K) NUMBER(N). {
    R = node_property(s, PROPERTY_PIXELS, K, node_leaf(s, NODE_NUMBER, N));
}
prop(R) ::= SHAPE(K) shape(S). {
    R = S;
    R->span.begin = K.begin;
}
prop(R) ::= CHIP(K) NAME(N). { R = node_property(s, PROPERTY_CHIP, K, node_word(s, NODE_NAME, N)); }
prop(R) ::= PORT(K) STRING(T). { R = node_property(s, PROPERTY_PORT, K, node_text(s, NODE_TEXT, T)); }
prop(R) ::= ORDER(K) NAME(N). {
    R = node_property(s, PROPERTY_ORDER, K, node_word(s, NODE_NAME, N));
}
prop(R) ::= SUPPLY(K) VOLT(V) AMPERE(A). {
    R = node_property(s, PROPERTY_SUPPLY, K, node_leaf(s, NODE_VOLT, V));
    R->b = node_leaf(s, NODE_AMPERE, A);
    R = node_extend(s, R, A.end);
}
prop(R) ::= LEVEL(K) add(E). { R = node_property(s, PROPERTY_LEVEL, K, E); }
prop(R) ::= WHITE(K) KELVIN(T). {
    R = node_property(s, PROPERTY_WHITE, K, node_leaf(s, NODE_KELVIN, T));
}
prop(R) ::= TURNED(K) ANGLE(A). {
    R = node_property(s, PROPERTY_TURNED, K, node_leaf(s, NODE_ANGLE, A));
}
prop(R) ::= MIRRORED(K). { R = node_property(s, PROPERTY_MIRRORED, K, NULL); }
prop(R) ::= PART(K) NAME(N) NUMBER(A) DOTDOT NUMBER(B). {
    R = node_property(s, PROPERTY_PART, K, node_word(s, NODE_NAME, N));
    R->b = node_leaf(s, NODE_NUMBER, A);
    R->c = node_leaf(s, NODE_NUMBER, B);
    R = node_extend(s, R, B.end);
}
prop(R) ::= GROUP(K) NAME(N) runs(L). {
    R = node_property(s, PROPERTY_GROUP, K, node_word(s, NODE_NAME, N));
    R->b = L.first;
    R = node_extend(s, R, END(L.last));
}
runs(R) ::= run(A). { R = list_one(A); }
runs(R) ::= runs(L) COMMA run(A). { R = list_add(L, A); }
run(R) ::= NUMBER(A). {
    R = node_make(s, NODE_RANGE, A.begin, A.end, node_leaf(s, NODE_NUMBER, A), NULL, NULL);
}
run(R) ::= NUMBER(A) DOTDOT NUMBER(B). {
    R = node_make(s, NODE_RANGE, A.begin, B.end, node_leaf(s, NODE_NUMBER, A),
                  node_leaf(s, NODE_NUMBER, B), NULL);
}
prop(R) ::= DRAWS(K) AMPERE(A) IDLE AMPERE(B). {
    R = node_property(s, PROPERTY_DRAWS, K, node_leaf(s, NODE_AMPERE, A));
    R->b = node_leaf(s, NODE_AMPERE, B);
    R = node_extend(s, R, B.end);
}
prop(R) ::= GAIN(K) PERCENT(A) COMMA PERCENT(B) COMMA PERCENT(C). {
    R = node_property(s, PROPERTY_GAIN, K, node_leaf(s, NODE_PERCENT, A));
    R->b = node_leaf(s, NODE_PERCENT, B);
    R->c = node_leaf(s, NODE_PERCENT, C);
    R = node_extend(s, R, C.end);
}
prop(R) ::= DIE(K) KELVIN(T). { R = node_property(s, PROPERTY_DIE, K, node_leaf(s, NODE_KELVIN, T)); }
prop(R) ::= DITHER(K) NAME(N). {
    R = node_property(s, PROPERTY_DITHER, K, node_word(s, NODE_NAME, N));
}
prop(R) ::= DITHER(K) LEVEL(N). {
    R = node_property(s, PROPERTY_DITHER, K, node_word(s, NODE_NAME, N));
}
prop(R) ::= REPAINT(K) DURATION(D). {
    R = node_property(s, PROPERTY_REPAINT, K, node_leaf(s, NODE_DURATION, D));
}
prop(R) ::= CLOCK(K) HERTZ(H). {
    R = node_property(s, PROPERTY_CLOCK, K, node_leaf(s, NODE_HERTZ, H));
}
prop(R) ::= ENDS(K) NAME(N). { R = node_property(s, PROPERTY_ENDS, K, node_word(s, NODE_NAME, N)); }
prop(R) ::= FLASHES(K) STRING(T). {
    R = node_property(s, PROPERTY_FLASHES, K, node_text(s, NODE_TEXT, T));
}
prop(R) ::= UNIVERSE(K) NUMBER(N). {
    R = node_property(s, PROPERTY_UNIVERSE, K, node_leaf(s, NODE_NUMBER, N));
}
prop(R) ::= PRIORITY(K) NUMBER(N). {
    R = node_property(s, PROPERTY_PRIORITY, K, node_leaf(s, NODE_NUMBER, N));
}
shape(R) ::= STRIP(W). { R = node_shape(s, W, W.end, NULL, NULL, false); }
shape(R) ::= RING(W). { R = node_shape(s, W, W.end, NULL, NULL, false); }
shape(R) ::= GRID(W) NUMBER(A) BY NUMBER(B). {
    R = node_shape(s, W, B.end, node_leaf(s, NODE_NUMBER, A), node_leaf(s, NODE_NUMBER, B), false);
}
shape(R) ::= GRID(W) NUMBER(A) BY NUMBER(B) ZIGZAG(Z). {
    R = node_shape(s, W, Z.end, node_leaf(s, NODE_NUMBER, A), node_leaf(s, NODE_NUMBER, B), true);
}
shape(R) ::= BALL(W) NUMBER(N). {
    R = node_shape(s, W, N.end, node_leaf(s, NODE_NUMBER, N), NULL, false);
}
shape(R) ::= BALL(W) NUMBER(N) FACES(F). {
    R = node_shape(s, W, F.end, node_leaf(s, NODE_NUMBER, N), NULL, true);
}
shape(R) ::= POINTS(W) STRING(T). {
    R = node_shape(s, W, T.end, NULL, NULL, false);
    R->c = node_text(s, NODE_TEXT, T);
    R = node_extend(s, R, T.end);
}
