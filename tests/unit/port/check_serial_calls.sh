#!/bin/sh
# The calls of libserialport 0.1.1 that must never be made are not in the program: the blocking ones
# spin after an unplug and measure time by the wall clock, sp_wait and sp_set_flowcontrol lie, and
# sp_get_port_handle's descriptor is ours to set up. What is used is listed, so that a new call is
# looked at once.
# usage: check_serial_calls.sh ARCHIVE
set -eu
used=$(nm -u "$1" | awk '$1 == "U" && $2 ~ /^sp_/ { print $2 }' | sort -u)
[ -n "$used" ] || { echo "$1 does not use libserialport at all"; exit 1; }
status=0
for call in $used; do
    case $call in
    sp_blocking_* | sp_wait | sp_add_port_events | sp_drain | sp_set_flowcontrol)
        echo "$call is faulty in 0.1.1 and must not be used"
        status=1
        ;;
    sp_list_ports | sp_free_port_list | sp_get_port_* | sp_open | sp_close | sp_free_port) ;;
    sp_new_config | sp_free_config | sp_set_config | sp_set_config_*) ;;
    sp_nonblocking_read | sp_nonblocking_write) ;;
    sp_set_dtr | sp_set_rts | sp_start_break | sp_end_break) ;;
    *)
        echo "$call is new here: read its source in 0.1.1, then add it to this list"
        status=1
        ;;
    esac
done
exit $status
