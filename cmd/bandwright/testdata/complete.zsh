# Prints what zsh offers where the cursor stands at the end of each line $2, $3
# …, with the script $1, and a line `over` after each: an interactive zsh on a
# terminal of its own completes them, and every compadd that adds matches is
# written down.
zmodload zsh/zpty || exit 1
out=$(mktemp)
zpty shell env -i HOME=/nonexistent PATH=$PATH TERM=dumb zsh -f -i
zpty -w shell "PS1='ready> '; autoload -Uz compinit; compinit -u -D; source ${(q)1}"
zpty -w shell "compadd() {
    local -a matches
    if [[ \" \${(j: :)@[1,\${@[(i)--]}]} \" != *' '-[OAD]' '* ]]; then
        builtin compadd -O matches \"\$@\"
        print -rl -- \$matches >>${(q)out}
    fi
    builtin compadd \"\$@\"
}"
zpty -w shell "over() { print over >>${(q)out}; zle kill-whole-line }; zle -N over; bindkey '^T' over"
shift
n=0
for line; do
    ((n++))
    zpty -w -n shell $line$'\t\x14'
    for ((i = 0; i < 1000; i++)); do
        [[ $(grep -cx over $out) == $n ]] && break
        zpty -r -t shell waste >/dev/null 2>&1
        sleep 0.01
    done
done
zpty -d shell
cat $out
rm -f $out
