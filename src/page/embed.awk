# Puts the page together: reads page.html, takes in each file that a line "@include NAME" asks for,
# and prints either the page itself (-v form=html) or a C table of its lines (-v form=c).
# -v folder=DIR says where the files are; -v core=FILE names the page's core as base64 lines for the line "@core"
# (without it the page is for looking only). The table ends with a null pointer; each line keeps its line feed.
# '?' is escaped as well, since C17 still knows trigraphs.

# What stands for a backslash in the replacement of gsub differs from awk to awk: split and join doesn't.
function swap(line, pattern, by,    parts, count, joined, i) {
    count = split(line, parts, pattern)
    joined = parts[1]
    for (i = 2; i <= count; i++)
        joined = joined by parts[i]
    return joined
}

function put(line) {
    if (form != "c") {
        print line
        return
    }
    line = swap(line, "[\\\\]", "\\\\")
    line = swap(line, "\"", "\\\"")
    line = swap(line, "[?]", "\\?")
    line = swap(line, "\t", "\\t")
    printf "    \"%s\\n\",\n", line
}

# Markup as a browser writes it back, so that a page saved from a page is the page again: a switch has a value, what can't
# be empty is closed by name, and the last tags follow each other.
function canonical(line,    done, tag) {
    while (match(line, /<[a-z][^<>]*>/)) {
        tag = substr(line, RSTART, RLENGTH)
        done = done substr(line, 1, RSTART - 1)
        line = substr(line, RSTART + RLENGTH)
        if (tag ~ /\/>$/) {
            split(substr(tag, 2), words, /[ \/>]/)
            tag = substr(tag, 1, length(tag) - 2) "></" words[1] ">"
        }
        tag = with_values(tag)
        done = done tag
    }
    return done line
}

# Switches stand between the values, which are in quotes.
function with_values(tag,    parts, count, i, joined, rest) {
    count = split(tag, parts, "\"")
    for (i = 1; i <= count; i++) {
        rest = parts[i]
        joined = joined (i > 1 ? "\"" : "")
        while (i % 2 && match(rest, / (hidden|multiple|checked|disabled|open)[ >]/)) {
            joined = joined substr(rest, 1, RSTART + RLENGTH - 2) "=\"\""
            rest = substr(rest, RSTART + RLENGTH - 1)
        }
        joined = joined rest
    }
    return joined
}

# The page carries its script without the remarks and the spaces that are for whoever changes it: a fifth less.
function take(line) {
    if (line == "<script>") script = 1
    if (line == "</script>") script = 0
    if (script && line ~ /^ *\/\//) return
    if (script) sub(/^ +/, "", line)
    if (line ~ /^<(style|script)/) raw = 1
    if (line ~ /^<\/(style|script)>/) raw = 0
    line = raw ? line : canonical(line)
    # The browser keeps no line feed here.
    if (line == "<html lang=\"en\">" || line == "</body>" || (line == "</script>" && last)) held = held line
    else {
        put(held line)
        held = ""
    }
}

BEGIN {
    if (form == "c") {
        print "/* Made from src/page/ by embed.awk; change the files there. */"
        print "#include <stddef.h>"
        print "extern const char *const page_lines[];"
        print "const char *const page_lines[] = {"
    }
}

# The last script of the page ends the page.
/^@include app\.js$/ { last = 1 }

/^[ \t]*@include / {
    name = folder "/" $2
    seen = 0
    while ((got = (getline line < name)) > 0) {
        take(line)
        seen = 1
    }
    close(name)
    if (got < 0 || !seen) {
        print "embed.awk: cannot read " name > "/dev/stderr"
        failed = 1
        exit 1
    }
    next
}

/^@core$/ {
    while (core != "" && (getline line < core) > 0)
        put(line)
    next
}

{ take($0) }

END {
    if (form == "c" && !failed)
        print "    NULL\n};"
}
