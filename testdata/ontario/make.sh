#!/bin/sh
# Fits and judges the model on the Ontario panel. Run in this folder, with
# reseal on the path:
#
#   ./make.sh            writes fits.txt, backtest.txt and backtest.html
set -eu
panel="--panel ../open/ontario-bridge-index-a.csv.gz --subject bridge --time year"
note="A yearly condition index of whole bridges, repaired between inspections and noisy; not of joints. Ontario Ministry of Transportation; contains information licensed under the Open Government Licence – Ontario."
both="--moves 1-2,2-1,2-3,3-2"
{
  echo "== moves both ways"
  reseal fit $panel $both
  echo; echo "== moves both ways, and ratings that may be wrong by one class"
  reseal fit $panel $both --rating-error --first-true
  echo; echo "== worsening only; what improves is left out"
  reseal fit $panel --moves 1-2,2-3
  echo; echo "== worsening only, and any rating may be wrong"
  reseal fit $panel --moves 1-2,2-3 --rating-errors 1-2,1-3,2-1,2-3,3-1,3-2 --first-true
} > fits.txt
judge() { echo; echo "== $1"; shift; reseal backtest $panel --born year_built --until 2008 "$@"; }
{
  judge "moves both ways, and rating error" $both --rating-error --first-true --html backtest.html --note "$note"
  judge "moves both ways" $both
  judge "worsening only, and any rating may be wrong" --moves 1-2,2-3 --rating-errors 1-2,1-3,2-1,2-3,3-1,3-2 --first-true
  judge "worsening only; what improves is left out" --moves 1-2,2-3
} > backtest.txt
