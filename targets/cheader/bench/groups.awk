# Sums what nm -S -t d says of an object by the groups of the file groups, and says how far a limit reaches.
#   nm -S -t d FILE | awk -v stem=NAME -v limit=BYTES -f groups.awk groups -
# A function that stands in no group is an error.
FNR == NR {
    if ($0 ~ /^#/ || $0 !~ /:/) next
    name[++groups] = substr($0, 1, index($0, ":") - 1)
    n = split(substr($0, index($0, ":") + 1), words, " ")
    for (i = 1; i <= n; i++) {
        if (sub(/\*$/, "", words[i])) begins[words[i]] = groups
        else exactly[words[i]] = groups
    }
    next
}
$3 ~ /^[tT]$/ {
    is = $4
    sub("^" stem "_", "", is)
    sub(/\..*/, "", is) # what a compiler made of it
    group = exactly[is]
    best = 0
    for (b in begins) if (!group && index(is, b) == 1 && length(b) > best) { found = begins[b]; best = length(b) }
    if (!group && best) group = found
    if (!group) { print "  " is " stands in no group of targets/cheader/bench/groups"; bad = 1 }
    bytes[group] += $2
}
END {
    if (bad) exit 1
    line = "  what that is for, bytes:"
    for (g = 1; g <= groups; g++) line = line sprintf("%s %s %d", g > 1 ? ";" : "", name[g], bytes[g])
    print line
    line = "  of " limit " bytes:"
    for (g = 1; g <= groups; g++) {
        sum += bytes[g]
        line = line sprintf("%s %s%s %s %d", g > 1 ? ";" : "", g > 1 ? "with " : "", name[g], sum > limit ? "too many by" : "fit, spare", sum > limit ? sum - limit : limit - sum)
        if (sum > limit) break
    }
    print line
}
