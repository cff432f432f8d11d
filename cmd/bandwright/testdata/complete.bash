# Prints what bash offers for a line whose words, as bash itself divides them,
# are the arguments after the script: the last one is being written.
source "$1"
shift
COMP_WORDS=("$@")
COMP_CWORD=$(($# - 1))
[[ $(complete -p bandwright) == *_bandwright* ]] || exit 1
_bandwright
printf '%s\n' "${COMPREPLY[@]}"
