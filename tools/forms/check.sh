#!/bin/sh
# Checks the golden data forms of the handover with readers from outside the project: the FHIR R4
# JSON schema of HL7 with ajv, GeoJSON, CSV, and the CAP 1.2 elements. Needs node and npm (Debian's),
# and network the first time.
# usage: tools/forms/check.sh
set -eu
cd "$(dirname "$0")/../.."
for tool in node npm; do
    command -v "$tool" >/dev/null || {
        echo "tools/forms/check.sh: $tool is missing (Debian packages nodejs, npm)" >&2
        exit 77
    }
done
mkdir -p build/forms
cp tools/forms/package.json tools/forms/check.js build/forms/
[ -d build/forms/node_modules/tslib ] ||
    npm install --prefix build/forms --ignore-scripts --no-audit --no-fund >build/forms/npm.log 2>&1 || {
    cat build/forms/npm.log >&2
    exit 1
}
node build/forms/check.js tests/golden/forms tests/golden/forms_*
