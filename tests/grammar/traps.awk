# The trap of %fallback: a state in which a name is shifted while a soft word only reduces. Table
# compression makes such a reduction the default one, the fallback is tried before it, and the word
# is taken for a name without a message. Reads the grammar, then lemon's listing made with -c (no
# compression); prints the traps and how many there are.
FILENAME == ARGV[1] {
    if ($0 ~ /^%fallback NAME/) inside = 1
    if (inside) {
        line = $0
        sub(/^%fallback NAME/, "", line)
        last = line ~ /\./
        sub(/\..*/, "", line)
        count = split(line, words, " ")
        for (i = 1; i <= count; i++) soft[words[i]] = 1
        softs += count
        if (last) inside = 0
    }
    next
}
/^State [0-9]+:/ { finish(); state = $2; sub(/:/, "", state); name = 0; reduced = ""; next }
$2 == "shift" && $1 == "NAME" { name = 1 }
$2 == "reduce" && ($1 in soft) { reduced = reduced " " $1 }
function finish() {
    if (name && reduced != "") {
        print "state " state ": a name fits, but these reduce:" reduced
        traps++
    }
}
END {
    finish()
    if (softs < 40) { print "read only " softs " soft words"; traps += 1000 }
    print traps + 0
}
