/* Not part of any program: the check of the calls must be able to fail. */
#include <libserialport.h>

int faulty_calls(struct sp_port *port);

int faulty_calls(struct sp_port *port)
{
    char byte;
    return (int)sp_blocking_read(port, &byte, 1, 10) + (int)sp_flush(port, SP_BUF_BOTH);
}
