# Sourced by the tests of the pages, after lib.sh: $port is where they are served by station base.
client() { "$helpers/pages_client" 127.0.0.1 "$port" "$@"; }

# ask METHOD PATH BODY [HEADER...]: the whole reply into $dir/reply.
ask() {
    method=$1 path=$2 body=$3
    shift 3
    {
        printf '%s %s HTTP/1.1\r\nConnection: close\r\n' "$method" "$path"
        for header in "$@"; do printf '%s\r\n' "$header"; done
        [ -z "$body" ] || printf 'Content-Length: %s\r\n' ${#body}
        printf '\r\n%s' "$body"
    } | client send >"$dir/reply" || true
}
# status WANTED WHAT: of the last reply.
status() {
    got=$(sed -n '1s/^HTTP[^ ]* \([0-9]*\).*/\1/p' "$dir/reply")
    [ "$got" = "$1" ] || fail "$2: status ${got:-none}, not $1: $(head -c 300 "$dir/reply" | tr -cd " -~\n")"
}
host="Host: 127.0.0.1:$port"
origin="Origin: http://127.0.0.1:$port"
guard="X-Ridgepost: 1"
json="Content-Type: application/json"
post() { ask POST "$1" "$2" "$host" "$origin" "$guard" "$json" "$3"; }
count() { at base log --json | tr '{' '\n' | grep -c '"kind":"note"' || true; }

# pair ROLE: prints the cookie.
pair() {
    code=$(at base --json pair "$1" | sed -n 's/.*"code":"\([0-9]*\)".*/\1/p')
    post /pair "{\"code\":\"$code\",\"device\":\"x\"}" "X-None: 1"
    sed -n 's/^Set-Cookie: \(ridgepost=[0-9a-f]*\).*/Cookie: \1/p' "$dir/reply"
}
