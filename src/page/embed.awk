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

BEGIN {
    if (form == "c") {
        print "/* Made from src/page/ by embed.awk; change the files there. */"
        print "#include <stddef.h>"
        print "extern const char *const page_lines[];"
        print "const char *const page_lines[] = {"
    }
}

/^[ \t]*@include / {
    name = folder "/" $2
    seen = 0
    while ((got = (getline line < name)) > 0) {
        put(line)
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

{ put($0) }

END {
    if (form == "c" && !failed)
        print "    NULL\n};"
}
