#!/usr/bin/env bash
# Runs every fuzz target over its corpus: replay.sh FOLDER-OF-PROGRAMS TARGET… (ctest does it, as `corpora`).
cd "$(dirname "${BASH_SOURCE[0]}")" || exit 74
programs=$1
shift
failed=0
for target in "$@"; do
  "$programs/corpus_$target" "corpus/$target" || { echo "corpus_$target: failed at the last file named above"; failed=1; }
done
exit "$failed"
