# Completion of gloam in bash: commands, their options (asked of the program), values, names, files.
_gloam() {
    local current=${COMP_WORDS[COMP_CWORD]} previous=${COMP_WORDS[COMP_CWORD - 1]} words=
    local command=${COMP_WORDS[1]} valued=yes
    COMPREPLY=()
    # `--format=js` comes as three words.
    if [ "$current" = = ]; then
        current=
    elif [ "$previous" = = ]; then
        previous=${COMP_WORDS[COMP_CWORD - 2]}
    fi
    if [ "$COMP_CWORD" -eq 1 ]; then
        _gloam_offer "$(_gloam_commands) help --help --version" "$current"
        return
    fi
    case $previous in
    help) words=$(_gloam_commands) ;;
    --values) words="bytes light" ;;
    --format)
        case $command in
        when) words="text csv ics" ;;
        *) words="text json" ;;
        esac
        ;;
    --from | --day | --week) words=$(date +%Y-%m-%d) ;;
    --colour) words="auto always never" ;;
    --routine) words=$(_gloam_names routine) ;;
    --lamp) words=$(_gloam_names lamp) ;;
    --set | --with)
        words=$(_gloam_names dial | sed 's/$/=/')
        compopt -o nospace 2>/dev/null
        ;;
    --home)
        _gloam_files '!*.gloam' "$current"
        return
        ;;
    --state)
        _gloam_files '!*.json' "$current"
        return
        ;;
    --report)
        words=$(_gloam_names event | sed 's/$/@/')
        compopt -o nospace 2>/dev/null
        ;;
    --chip) words="apa102 sk6812 sk6812w sk9822 ws2812 ws2812b" ;;
    --port) words="/dev/spidev0.0 e131:" ;;
    --order) words="rgb grb bgr grbw rgbw" ;;
    --pairing) words="code none" ;;
    --page) words="none 8080" ;;
    --broker-file)
        _gloam_files '' "$current"
        return
        ;;
    --for | --until | --trust-after | --to | --supply | --every | --broker | --takes | --as) ;;
    --speed) words="1x 10x 60x -1x" ;;
    --fps | --pixels | --days | --start | --length | --clock | --size) ;;
    -o | --output)
        if [ "$command" = run ] || [ "$command" = try-wiring ]; then
            words="terminal csv:"
            compopt -o nospace 2>/dev/null
        else
            _gloam_files '' "$current"
            return
        fi
        ;;
    *) valued= ;;
    esac
    if [ -n "$valued" ]; then
        _gloam_offer "$words" "$current"
        return
    fi
    case $current in
    -*)
        _gloam_offer "$(gloam "$command" --help 2>/dev/null |
            sed -n 's/^  \(-o, \)\{0,1\} *\(--[a-z-]*\).*/\2/p')" "$current"
        ;;
    *)
        case $command in
        play) _gloam_offer "$(_gloam_names routine) off" "$current" ;;
        set) _gloam_offer "$(_gloam_names dial)" "$current" ;;
        report) _gloam_offer "$(_gloam_names event)" "$current" ;;
        level | skip | more | earlier | clear | undo | status | pair) ;;
        *) _gloam_files '!*.gloam' "$current" ;;
        esac
        ;;
    esac
}

_gloam_commands() {
    gloam --help 2>/dev/null | sed -n 's/^  \([a-z-]*\)  .*/\1/p'
}

# Those of the words that begin with what is there.
_gloam_offer() {
    mapfile -t COMPREPLY < <(compgen -W "$1" -- "$2")
}

# Files but for those that the pattern excludes, and folders.
_gloam_files() {
    compopt -o filenames 2>/dev/null
    mapfile -t COMPREPLY < <(
        { compgen -f ${1:+-X "$1"} -- "$2"; compgen -d -- "$2"; } | sort -u
    )
}

# The names of the routines, lamps or dials declared in the file on the command line.
_gloam_names() {
    local word
    for word in "${COMP_WORDS[@]}"; do
        case $word in
        *.gloam)
            word=${word/#\~/$HOME}
            sed -n "s/^[[:space:]]*$1[[:space:]]\{1,\}\([A-Za-z_][A-Za-z0-9_]*\).*/\1/p" "$word" 2>/dev/null
            ;;
        esac
    done
}

complete -F _gloam gloam
