#include "port/ports/ports.h"

#include <dirent.h>
#include <libserialport.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static void copy(char *out, size_t cap, const char *text)
{
    snprintf(out, cap, "%s", text != NULL ? text : "");
}

/* The link in `folder` that leads to the device. udev makes them. */
static bool find_link(const char *folder, const char *device, char *out, size_t cap)
{
    DIR *dir = opendir(folder);
    struct dirent *entry;
    bool found = false;
    while (dir != NULL && !found && (entry = readdir(dir)) != NULL) {
        char link[PATH_MAX], leads_to[PATH_MAX];
        int len = snprintf(link, sizeof link, "%s/%s", folder, entry->d_name);
        if (entry->d_name[0] == '.' || len < 0 || (size_t)len >= cap) {
            continue;
        }
        found = realpath(link, leads_to) != NULL && strcmp(leads_to, device) == 0;
        if (found) {
            memcpy(out, link, (size_t)len + 1);
        }
    }
    if (dir != NULL) {
        closedir(dir);
    }
    return found;
}

bool rp_port_shares_name(const struct rp_port_info *port)
{
    return port->has_usb && port->serial[0] == '\0';
}

static void find_stable(struct rp_port_info *port)
{
    static const char by_id[] = "/dev/serial/by-id", by_path[] = "/dev/serial/by-path";
    bool shared = rp_port_shares_name(port);
    const char *const folders[] = {shared ? by_path : by_id, shared ? by_id : by_path};
    for (size_t i = 0; i < 2; i++) {
        if (find_link(folders[i], port->device, port->stable, sizeof port->stable)) {
            return;
        }
    }
}

static void describe(struct sp_port *listed, struct rp_port_info *port)
{
    int vendor = 0, product = 0;
    *port = (struct rp_port_info){0};
    copy(port->device, sizeof port->device, sp_get_port_name(listed));
    if (sp_get_port_transport(listed) == SP_TRANSPORT_USB &&
        sp_get_port_usb_vid_pid(listed, &vendor, &product) == SP_OK) {
        port->has_usb = true;
        port->vendor = (uint16_t)vendor;
        port->product = (uint16_t)product;
        copy(port->serial, sizeof port->serial, sp_get_port_usb_serial(listed));
        copy(port->maker, sizeof port->maker, sp_get_port_usb_manufacturer(listed));
        copy(port->model, sizeof port->model, sp_get_port_usb_product(listed));
    }
    find_stable(port);
    rp_port_find_holder(port->device, &port->holder);
    port->allowed = access(port->device, R_OK | W_OK) == 0;
}

int rp_ports_list(void (*each)(void *ctx, const struct rp_port_info *port), void *ctx,
                  struct rp_problem *out_problem)
{
    struct sp_port **ports = NULL;
    enum sp_return rc = sp_list_ports(&ports);
    if (rc != SP_OK) {
        int code = rc == SP_ERR_MEM ? RP_E_MEMORY : RP_E_IO;
        return rp_problem_set(out_problem, code, "port",
                              "the serial ports cannot be listed: /sys/class/tty is not readable");
    }
    for (size_t i = 0; ports[i] != NULL; i++) {
        struct rp_port_info port;
        describe(ports[i], &port);
        each(ctx, &port);
    }
    sp_free_port_list(ports);
    return RP_OK;
}
