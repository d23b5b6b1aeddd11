#!/usr/bin/env bash
# The README's commands run as they stand there, and its table of settings is
# the one that the program has. Run from the top: tests/app/readme.sh
set -u
top=$PWD
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
program=$THUNDERCUE

report() { # exit status, name
    if [ "$1" = 0 ]; then echo "[       OK ] $2"; else echo "[  FAILED  ] $2"; failed=1; fi
}
failed=0

table() { sed -n '/^<!-- made by/,/^<!-- end/p' "$top/README.md" | sed '1d;$d'; }
diff <(table) <("$program" --options)
report $? "the README's settings are those of the program (else: make readme)"

# What the README's examples talk about.
mkdir "$folder/bin" "$folder/clips"
ln -s "$program" "$folder/bin/thundercue"
cp "$top/samples/mill-pond.flac" "$folder/clips/pond.flac"
cp "$top/samples/mill-pond.flac" "$folder/thunder.wav" # libsndfile looks at the content
cp "$top/samples/mill-pond.labels.csv" "$folder/thunder.labels.csv"
cp "$top/samples/mill-pond.rig" "$folder/mill-pond.rig"

commands=$(sed -n '/^```sh$/,/^```$/p' "$top/README.md" | grep '^thundercue '
           grep -o '`thundercue [^`]*`' "$top/README.md" | tr -d '`' | grep ' .* ')
while IFS= read -r command; do
    (cd "$folder" && PATH=$folder/bin:$PATH bash -c "$command" </dev/null) >"$folder/log" 2>&1
    status=$?
    [ $status = 0 ] || cat "$folder/log"
    report $status "as in the README: $command"
done <<<"$commands"
exit $failed
