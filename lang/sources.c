#include "lang/sources.h"

#include <string.h>

#include "runtime/core/memory.h"

static uint32_t *find_lines(const char *text, size_t length, uint32_t *count) {
    *count = 1;
    for (size_t i = 0; i < length; i++)
        *count += text[i] == '\n';
    uint32_t *lines = memory_allocate(*count, sizeof(uint32_t));
    if (!lines)
        return NULL;
    uint32_t line = 1;
    for (size_t i = 0; i < length; i++)
        if (text[i] == '\n')
            lines[line++] = (uint32_t)(i + 1);
    return lines;
}

static SourceMark *find_marks(const char *text, size_t length) {
    SourceMark *marks = memory_allocate(length / SOURCE_STRIDE + 1, sizeof *marks);
    uint32_t column = 1;
    size_t at = length >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0 ? 3 : 0, next = 0;
    for (size_t size; marks && at < length; at += size, column++) {
        for (; next * SOURCE_STRIDE <= at; next++)
            marks[next] = (SourceMark){(uint32_t)at, column};
        utf8_read(text + at, length - at, &size);
        if (text[at] == '\n')
            column = 0;
    }
    return marks;
}

static void release(Source *source) {
    memory_release(source->name);
    memory_release(source->text);
    memory_release(source->lines);
    memory_release(source->marks);
}

uint32_t sources_add(Sources *sources, const char *name, const char *text, size_t length) {
    if (sources->count == UINT32_MAX - 1 || length > UINT32_MAX - 1)
        return UINT32_MAX;
    Source *items = memory_resize(sources->items, sources->count + 1, sizeof(Source));
    if (!items)
        return UINT32_MAX;
    sources->items = items;
    Source source = {.length = length};
    source.name = memory_copy_text(name, strlen(name));
    source.text = memory_copy_text(text, length);
    source.lines = source.text ? find_lines(text, length, &source.line_count) : NULL;
    source.marks = source.text ? find_marks(source.text, length) : NULL;
    if (!source.name || !source.lines || !source.marks) {
        release(&source);
        return UINT32_MAX;
    }
    items[sources->count] = source;
    return sources->count++;
}

const Source *sources_get(const Sources *sources, uint32_t file) {
    return file < sources->count ? &sources->items[file] : NULL;
}

void sources_free(Sources *sources) {
    for (uint32_t i = 0; i < sources->count; i++)
        release(&sources->items[i]);
    memory_release(sources->items);
}

/* The bytes of a line (from 1), without its end and without a byte order mark. */
static void source_line(const Source *source, uint32_t line, size_t *begin, size_t *end) {
    size_t from = source->lines[line - 1];
    size_t to = line < source->line_count ? source->lines[line] - 1 : source->length;
    if (line == 1 && to - from >= 3 && memcmp(source->text, "\xEF\xBB\xBF", 3) == 0)
        from += 3;
    if (to > from && source->text[to - 1] == '\r')
        to--;
    *begin = from;
    *end = to;
}

uint32_t source_line_of(const Source *source, uint32_t byte) {
    uint32_t low = 0, high = source->line_count;
    while (high - low > 1) {
        uint32_t middle = low + (high - low) / 2;
        if (source->lines[middle] <= byte)
            low = middle;
        else
            high = middle;
    }
    return low + 1;
}

void source_position(const Source *source, uint32_t byte, uint32_t *line, uint32_t *column) {
    size_t at, end;
    *line = source_line_of(source, byte);
    *column = 1;
    source_line(source, *line, &at, &end);
    if (byte < end)
        end = byte;
    const SourceMark *mark = &source->marks[end / SOURCE_STRIDE];
    if (mark->byte > at && mark->byte <= end) {
        at = mark->byte;
        *column = mark->column;
    }
    while (at < end) {
        size_t size;
        utf8_read(source->text + at, source->length - at, &size);
        at += size;
        if (at <= end)
            ++*column;
    }
}

uint32_t utf8_read(const char *text, size_t left, size_t *size) {
    const unsigned char *byte = (const unsigned char *)text;
    static const uint32_t smallest[] = {0, 0, 0x80, 0x800, 0x10000};
    *size = 1;
    if (byte[0] < 0x80)
        return byte[0];
    size_t length = byte[0] >= 0xF0 ? 4 : byte[0] >= 0xE0 ? 3 : 2;
    if (byte[0] < 0xC2 || byte[0] > 0xF4 || length > left)
        return UTF8_INVALID;
    uint32_t code = byte[0] & (0xFFu >> (length + 1));
    for (size_t i = 1; i < length; i++) {
        if ((byte[i] & 0xC0) != 0x80)
            return UTF8_INVALID;
        code = code << 6 | (byte[i] & 0x3Fu);
    }
    if (code < smallest[length] || code > 0x10FFFF || (code >= 0xD800 && code <= 0xDFFF))
        return UTF8_INVALID;
    *size = length;
    return code;
}

size_t utf8_cut(const char *text, size_t length) {
    size_t start = length;
    while (start > 0 && length - start < 3 && ((unsigned char)text[start - 1] & 0xC0) == 0x80)
        start--;
    if (start == 0)
        return length;
    unsigned char lead = (unsigned char)text[start - 1];
    size_t wanted = lead >= 0xF0 ? 4 : lead >= 0xE0 ? 3 : lead >= 0xC0 ? 2 : 1;
    return wanted > 1 && length - (start - 1) < wanted ? start - 1 : length;
}

typedef struct CodeRange {
    uint32_t from, to;
} CodeRange;

static int is_among(const CodeRange *ranges, size_t count, uint32_t code) {
    for (size_t i = 0; i < count; i++)
        if (code >= ranges[i].from && code <= ranges[i].to)
            return 1;
    return 0;
}

#define AMONG(ranges, code) is_among(ranges, sizeof(ranges) / sizeof(ranges[0]), code)

/* Blocks of Unicode's EastAsianWidth.txt that are W or F, and of nonspacing marks (Mn, Me); whole
 * blocks where single exceptions are rare. */
static const CodeRange wide[] = {
    {0x1100, 0x115F},   {0x2329, 0x232A},   {0x2E80, 0x303E},   {0x3041, 0x3247},
    {0x3250, 0x4DBF},   {0x4E00, 0xA4CF},   {0xA960, 0xA97C},   {0xAC00, 0xD7A3},
    {0xF900, 0xFAFF},   {0xFE10, 0xFE19},   {0xFE30, 0xFE6B},   {0xFF01, 0xFF60},
    {0xFFE0, 0xFFE6},   {0x16FE0, 0x18CFF}, {0x1AFF0, 0x1B2FF}, {0x1F300, 0x1F320},
    {0x1F32D, 0x1F335}, {0x1F337, 0x1F37C}, {0x1F37E, 0x1F393}, {0x1F3A0, 0x1F3CA},
    {0x1F3E0, 0x1F3F0}, {0x1F3F8, 0x1F43E}, {0x1F440, 0x1F440}, {0x1F442, 0x1F4FC},
    {0x1F4FF, 0x1F53D}, {0x1F550, 0x1F567}, {0x1F5FB, 0x1F64F}, {0x1F680, 0x1F6C5},
    {0x1F90C, 0x1F9FF}, {0x20000, 0x3FFFD},
};
static const CodeRange marks[] = {
    {0x0300, 0x036F}, {0x0483, 0x0489}, {0x0591, 0x05BD},   {0x0610, 0x061A}, {0x064B, 0x065F},
    {0x0E31, 0x0E31}, {0x0E34, 0x0E3A}, {0x0E47, 0x0E4E},   {0x1AB0, 0x1ACE}, {0x1DC0, 0x1DFF},
    {0x200B, 0x200D}, {0x20D0, 0x20F0}, {0x302A, 0x302D},   {0x3099, 0x309A}, {0xFE00, 0xFE0F},
    {0xFE20, 0xFE2F}, {0xFEFF, 0xFEFF}, {0xE0100, 0xE01EF},
};
static const CodeRange controls[] = {
    {0x00, 0x1F},     {0x7F, 0x9F},     {0x061C, 0x061C}, {0x200E, 0x200F},
    {0x2028, 0x202E}, {0x2060, 0x206F}, {0xFFF9, 0xFFFB}, {0xE0000, 0xE007F},
};

int utf8_is_control(uint32_t code) {
    return AMONG(controls, code);
}

int utf8_width(uint32_t code) {
    if (code < 0x300)
        return 1;
    if (AMONG(marks, code))
        return 0;
    return AMONG(wide, code) ? 2 : 1;
}
