#!/bin/sh
# An example of a hook. Lapwright starts it with one JSON document on its stdin; what it writes goes to the service's log.
# Here the engine shed's bell rings once for news and three times where somebody has to come.
news=$(cat)
case $news in
*'"event":"trip"'* | *'"needs_person":true'*) rings='ring ring ring' ;;
*) rings=ring ;;
esac
echo "$1: $rings, $(date +%H:%M): $news"
