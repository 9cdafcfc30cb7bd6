# Completion of gloam in bash: commands, their options (asked of the program), files.
_gloam() {
    local current=${COMP_WORDS[COMP_CWORD]} previous=${COMP_WORDS[COMP_CWORD - 1]} words
    COMPREPLY=()
    if [ "$COMP_CWORD" -eq 1 ]; then
        words=$(gloam --help 2>/dev/null | sed -n 's/^  \([a-z]*\) .*/\1/p')
        mapfile -t COMPREPLY < <(compgen -W "$words --help --version" -- "$current")
        return
    fi
    case $previous in
    --values) words="bytes light" ;;
    --format) words="text json" ;;
    --colour) words="auto always never" ;;
    --routine) words=$(_gloam_names routine) ;;
    --lamp) words=$(_gloam_names lamp) ;;
    esac
    if [ -n "$words" ]; then
        mapfile -t COMPREPLY < <(compgen -W "$words" -- "$current")
        return
    fi
    case $current in
    -*)
        words=$(gloam "${COMP_WORDS[1]}" --help 2>/dev/null |
            sed -n 's/^  \(-o, \)\{0,1\} *\(--[a-z-]*\).*/\2/p')
        mapfile -t COMPREPLY < <(compgen -W "$words" -- "$current")
        ;;
    *)
        compopt -o filenames 2>/dev/null
        mapfile -t COMPREPLY < <(compgen -f -X '!*.gloam' -- "$current"; compgen -d -- "$current")
        ;;
    esac
}

# The names of the routines or lamps declared in the file on the command line.
_gloam_names() {
    local word
    for word in "${COMP_WORDS[@]}"; do
        case $word in
        *.gloam) sed -n "s/^$1 \([A-Za-z_][A-Za-z0-9_]*\).*/\1/p" "$word" 2>/dev/null ;;
        esac
    done
}

complete -F _gloam gloam
