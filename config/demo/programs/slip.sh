# Writes slip.txt for the workbench of the observatory's workshop, by what it reads of the facts on standard input: one
# line of JSON, without spaces between keys and values. Needs nothing but a POSIX shell, sed, tr and grep.
set -eu

facts=$(cat)

# The value that follows a piece of the text: letters and digits, without quotes inside.
after() {
    printf '%s' "$facts" | sed -n "s/.*$1\"\{0,1\}\([A-Za-z0-9. -]*\).*/\1/p"
}

sheets=$(printf '%s' "$facts" | tr '{' '\n' | grep -c '^"panel":' || true)
places=$(printf '%s' "$facts" | tr '{' '\n' | grep -c '^"n":' || true)

cat >slip.txt <<SLIP
$(after '"job":')
on $(after '"blank":{"name":'), $(after '"copies":') of it

[ ] $sheets sheets printed, ruler measured
[ ] cut, taped, looked at against the light
[ ] pressed at $places places, $(after '"dwell_s":') s each (the notes say where)
[ ] cooled flat, looked over, packed
SLIP

echo "slip for $sheets sheets" >&2
printf '{"protocol": 1, "files": ["slip.txt"]}\n'
