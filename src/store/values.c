#include "store/ops.h"

#include <string.h>

#include <sqlite3.h>

#include "store/statements.h"
#include "store/store.h"

static int check_key(const char *key)
{
    size_t len = strlen(key);
    if (len == 0) {
        return RP_E_INVALID;
    }
    return len > RP_STORE_KEY_LEN_MAX ? RP_E_TOO_LONG : 0;
}

static int copy_value(sqlite3_stmt *statement, uint8_t *buf, size_t cap)
{
    const void *value = sqlite3_column_blob(statement, 0);
    int len = sqlite3_column_bytes(statement, 0);
    if (len > RP_STORE_VALUE_LEN_MAX) {
        return RP_E_CORRUPT;
    }
    if (len > 0 && value == NULL) {
        return RP_E_MEMORY;
    }
    if ((size_t)len > cap) {
        return RP_E_TOO_LONG;
    }
    if (len > 0) {
        memcpy(buf, value, (size_t)len);
    }
    return len;
}

int rp_store_get_value(void *ctx, const char *key, uint8_t *buf, size_t cap)
{
    struct rp_store *store = ctx;
    int code = check_key(key);
    if (code < 0) {
        return code;
    }
    sqlite3_stmt *statement = store->statements[RP_SQL_VALUE_GET];
    rp_store_bind_text(statement, ":name", key);
    code = rp_store_step(store, statement);
    code = code == 1 ? copy_value(statement, buf, cap) : code == 0 ? RP_E_NOT_FOUND : code;
    rp_store_release(statement);
    return code;
}

int rp_store_put_value(struct rp_store *store, const char *key, struct rp_view value)
{
    int code = check_key(key);
    if (code < 0) {
        return code;
    }
    if (value.len > RP_STORE_VALUE_LEN_MAX) {
        return RP_E_TOO_LONG;
    }
    sqlite3_stmt *statement = store->statements[RP_SQL_VALUE_SET];
    rp_store_bind_text(statement, ":name", key);
    rp_store_bind_bytes(statement, ":value", value);
    return rp_store_run(store, statement);
}

int rp_store_set_value(void *ctx, const char *key, struct rp_view value)
{
    struct rp_store *store = ctx;
    int code = check_key(key);
    if (code == 0 && value.len > RP_STORE_VALUE_LEN_MAX) {
        code = RP_E_TOO_LONG;
    }
    if (code == 0) {
        code = rp_store_begin(store);
    }
    return code < 0 ? code : rp_store_end(store, rp_store_put_value(store, key, value));
}
