#!/usr/bin/env bash
# Takes what the pages use from others, as locked in package-lock.json, into
# ../static/vendor with its licences. Usage: bash take.sh
set -euo pipefail
cd "$(dirname "$0")"
npm ci --no-audit --no-fund --ignore-scripts
to=../static/vendor
rm -rf "$to"
mkdir -p "$to"
take() { # package, file, name it gets
  cp "node_modules/$1/$2" "$to/$3"
}
take maplibre-gl dist/maplibre-gl-csp.js maplibre-gl.js
take maplibre-gl dist/maplibre-gl-csp-worker.js maplibre-gl-worker.js
take maplibre-gl dist/maplibre-gl.css maplibre-gl.css
take maplibre-gl LICENSE.txt maplibre-gl.LICENSE.txt
take pmtiles dist/pmtiles.js pmtiles.js
take topojson-client dist/topojson-client.min.js topojson-client.js
take topojson-client LICENSE topojson-client.LICENSE.txt
take us-atlas counties-10m.json us-counties.json
take us-atlas LICENSE us-counties.LICENSE.txt
sed -i '/^\/\/# sourceMappingURL=/d' "$to"/*.js
cp pmtiles.LICENSE.txt "$to/pmtiles.LICENSE.txt"
