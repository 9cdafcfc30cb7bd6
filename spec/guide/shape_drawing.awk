# Draws a lamp as SVG: awk -f shape_drawing.awk -v title="ring" [-v mark=PIXEL] [-v only="x"] [-v low=HALF]
#     [-v struts=STRUTS] PLACES [AROUND [LIGHT]]
#
# The files are what `gloam dump --values light` prints of a routine whose red, green, blue are
#   PLACES  x, y, z        AROUND  radius, angle in turns, pos        LIGHT  what the dots show
# and STRUTS is PLACES of the corners of a ball, drawn as its struts. No place is worked out here.
BEGIN {
    FS = ","
    ground = "#16181d"; plain = "#c8c8c8"; bright = "#ffffff"; faint = "#4a5060"; wire = "#6b7488"
    around = "#f0a040"; away = "#3fb8af"
    split("#d08040 #5b8fd0 #b060b0 #60a060 #c0c050 #c05050", colours, " ")
    if (struts != "") {
        while ((getline row < struts) > 0) {
            split(row, cell, ",")
            if (cell[3] ~ /^[0-9]/) { i = cell[3]; cx[i] = cell[4]; cy[i] = cell[5]; cz[i] = cell[6]; corners = i + 1 }
        }
    }
}
FNR == 1 { file++; next }
file == 1 { x[$3] = $4; y[$3] = $5; z[$3] = $6; if ($6 != 0) ball = 1; pixels = $3 + 1 }
file == 2 { radius[$3] = $4; turn[$3] = $5; pos[$3] = $6 }
file == 3 { fill[$3] = screen($4, $5, $6); light[$3] = 0.2126 * $4 + 0.7152 * $5 + 0.0722 * $6; lit = 1 }

# What a screen needs to show that much light (IEC 61966-2-1, as CSS Color 4 has it).
function encoded(v) {
    v = v < 0 ? 0 : v > 1 ? 1 : v
    return int(255 * (v <= 0.0031308 ? 12.92 * v : 1.055 * v ^ (1 / 2.4) - 0.055) + 0.5)
}
function screen(r, g, b) { return sprintf("#%02x%02x%02x", encoded(r), encoded(g), encoded(b)) }
function px(v) { return middle + v * unit }
function py(v) { return level - v * unit }
function text(at, down, size, colour, anchor, words) {
    printf "<text x=\"%.1f\" y=\"%.1f\" font-size=\"%g\" fill=\"%s\" text-anchor=\"%s\">%s</text>\n",
        at, down, size, colour, anchor, words
}
function line(x1, y1, x2, y2, colour, wide, dashes) {
    printf "<path d=\"M%.1f %.1fL%.1f %.1f\" stroke=\"%s\" stroke-width=\"%g\"%s/>\n", x1, y1, x2, y2, colour, wide,
        dashes ? " stroke-dasharray=\"" dashes "\"" : ""
}
function length_of(a, b, c) { return sqrt(a * a + b * b + c * c) }
function dot(i, right, up, size, dim,    ink) {
    ink = lit ? fill[i] : i == 0 ? "#e8e8e8" : "#39425a"
    printf "<circle cx=\"%.1f\" cy=\"%.1f\" r=\"%.1f\" fill=\"%s\" stroke=\"%s\"%s/>\n", right, up, size, ink,
        lit ? faint : "#8a93a6", dim ? " stroke-dasharray=\"2 2\"" : ""
    ink = lit ? (light[i] > 0.2 ? "#000000" : bright) : i == 0 ? "#000000" : bright
    text(right, up + type * 0.36, type, ink, "middle", i)
}
function head(wide, high, right) {
    printf "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"%d\" height=\"%d\" font-family=\"DejaVu Sans\" fill=\"none\">\n", wide, high
    printf "<rect width=\"100%%\" height=\"100%%\" fill=\"%s\"/>\n", ground
    printf "<text x=\"20\" y=\"32\" font-size=\"17\" font-weight=\"bold\" fill=\"%s\">%s</text>\n", bright, title
    text(wide - 20, 32, 14, plain, "end", right)
}
function axes(    tall) {
    tall = low ? low : 1
    printf "<rect x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" height=\"%.1f\" stroke=\"%s\"/>\n", px(-1), py(tall), 2 * unit, 2 * tall * unit, faint
    line(px(-1), py(0), px(1), py(0), faint, 1, "3 4")
    line(px(0), py(-tall), px(0), py(tall), faint, 1, "3 4")
    text(px(-1), py(-tall) + 20, 13, plain, "middle", "x = −1")
    text(px(1), py(-tall) + 20, 13, plain, "middle", "x = 1")
    if (low) return
    text(px(-1) - 10, py(-1) + 5, 13, plain, "end", "y = −1")
    text(px(-1) - 10, py(1) + 5, 13, plain, "end", "y = 1")
}
# From the top to the angle of a pixel, and from the middle to its place.
function marked(i,    reach, step, steps, a, path) {
    reach = 1.13; steps = 60
    for (step = 0; step <= steps; step++) {
        a = turn[i] * step / steps * 6.283185307
        path = path sprintf("%s%.1f %.1f", step ? "L" : "M", px(reach * sin(a)), py(reach * cos(a)))
    }
    line(px(0), py(1.06), px(0), py(1.2), around, 2)
    printf "<path d=\"%s\" stroke=\"%s\" stroke-width=\"2\"/>\n", path, around
    printf "<path d=\"M0 0L-11 -5L-11 5Z\" fill=\"%s\" transform=\"translate(%.1f %.1f) rotate(%.2f)\"/>\n", around,
        px(reach * sin(a)), py(reach * cos(a)), turn[i] * 360
    text(px(0) - 8, py(1.13) + 2, 13, around, "end", "angle 0deg")
    text(px((reach + 0.04) * sin(a)) + 4, py((reach + 0.04) * cos(a)) + 2, 13, around, "start", sprintf("%.4gdeg", turn[i] * 360))
    line(px(0), py(0), px(x[i]), py(y[i]), away, 2)
    text(px((reach + 0.04) * sin(a)) + 4, py((reach + 0.04) * cos(a)) + 20, 13, away, "start", sprintf("radius %.3g", radius[i]))
}
function flat(    i, j, apart, size, high, tall) {
    tall = low ? low : 1
    unit = low ? 400 : 155
    middle = low ? 450 : 230
    level = low ? 66 + low * unit : mark != "" ? 265 : 225
    head(low ? 900 : 500, level + tall * unit + 36, pixels " pixels")
    axes()
    size = 17
    for (i = 0; i < pixels; i++)
        for (j = 0; j < i; j++) {
            apart = length_of(x[i] - x[j], y[i] - y[j], 0) * unit
            if (apart * 0.42 < size) size = apart * 0.42
        }
    if (size < 9) size = 9
    for (i = 1; i < pixels; i++) line(px(x[i - 1]), py(y[i - 1]), px(x[i]), py(y[i]), wire, 2)
    if (mark != "") marked(mark)
    type = size < 12 ? 11 : 13
    for (i = 0; i < pixels; i++) dot(i, px(x[i]), py(y[i]), size)
}
# One side of a ball: what looks at us, over its struts. `way` turns the ball: 1 front, -1 back, 0 from above.
function side(way, words,    i, j, n, deep, right, up) {
    printf "<circle cx=\"%.1f\" cy=\"%.1f\" r=\"%.1f\" stroke=\"%s\"/>\n", px(0), py(0), unit, faint
    printf "<clipPath id=\"side%d\"><circle cx=\"%.1f\" cy=\"%.1f\" r=\"%.1f\"/></clipPath>", way + 1, px(0), py(0), unit
    printf "<g clip-path=\"url(#side%d)\">\n", way + 1
    for (n = 0; n < joins; n++) {
        i = from[n]; j = to[n]
        if (depth(way, cx[i], cy[i], cz[i]) < -1e-6 && depth(way, cx[j], cy[j], cz[j]) < -1e-6) continue
        map(way, cx[i], cy[i], cz[i]); right = map_x; up = map_y
        map(way, cx[j], cy[j], cz[j])
        line(right, up, map_x, map_y, colours[kind[n]], 2)
    }
    print "</g>"
    for (i = 0; i < pixels; i++) {
        deep = depth(way, x[i], y[i], z[i])
        if (deep < -1e-6) continue
        map(way, x[i], y[i], z[i])
        dot(i, map_x, map_y, 11, deep < 1e-6)
    }
    text(px(0), py(-1) + 36, 14, plain, "middle", words)
}
# As on a map that keeps the distances from its middle: the rim is a quarter round the ball, and the
# pixels beside it are not crowded.
function depth(way, a, b, c) { return way ? way * c : b }
function map(way, a, b, c,    right, up, deep, far) {
    right = way ? way * a : a
    up = way ? b : -c
    deep = depth(way, a, b, c)
    far = sqrt(right * right + up * up)
    far = far > 0 ? atan2(far, deep) / 1.570796327 / far : 0
    map_x = px(right * far); map_y = py(up * far)
}
function sphere(    i, j, far, nearest, n, k, lengths, known, at) {
    for (i = 0; i < corners; i++)
        for (j = 0; j < i; j++) {
            far = length_of(cx[i] - cx[j], cy[i] - cy[j], cz[i] - cz[j])
            if (nearest == "" || far < nearest) nearest = far
        }
    # A strut is never longer than 1.3 of the shortest (geodesic_chord_factors.csv), the second
    # neighbour is never nearer than 1.6 of it.
    for (i = 0; i < corners; i++)
        for (j = 0; j < i; j++) {
            far = length_of(cx[i] - cx[j], cy[i] - cy[j], cz[i] - cz[j])
            if (far > nearest * 1.35) continue
            for (k = 1; k <= known && (far - lengths[k] > 1e-5 || lengths[k] - far > 1e-5); k++)
                ;
            if (k > known) lengths[known = k] = far
            from[joins] = i; to[joins] = j; kind[joins] = k; count[k]++; joins++
        }
    unit = 138; type = 11; level = 205
    head(940, 430, pixels " pixels")
    middle = 164; side(1, "from the front"); middle = 470; side(-1, "from the back"); middle = 776; side(0, "from above, the front below")
    at = 20
    for (k = 1; k <= known; k++) {
        line(at, 413, at + 26, 413, colours[k], 3)
        text(at + 34, 418, 13, plain, "start", sprintf("%d struts, %.5f of the radius", count[k], lengths[k]))
        at += 270
    }
}
END {
    if (ball) sphere(); else flat()
    print "</svg>"
}
