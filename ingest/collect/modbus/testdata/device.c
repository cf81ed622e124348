/* A Modbus TCP device for the tests: device ADDRESS PORT. Its holding registers
 * can be written by any client; it serves any number of them. */
#include <errno.h>
#include <modbus/modbus.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/select.h>
#include <unistd.h>

int main(int argc, char **argv) {
    if (argc != 3) return 2;
    modbus_t *ctx = modbus_new_tcp(argv[1], atoi(argv[2]));
    modbus_mapping_t *map = modbus_mapping_new(0, 0, 200, 200);
    int server = modbus_tcp_listen(ctx, 5);
    if (server < 0) {
        fprintf(stderr, "listen: %s\n", modbus_strerror(errno));
        return 1;
    }
    fd_set all;
    int most = server;
    FD_ZERO(&all);
    FD_SET(server, &all);
    for (;;) {
        fd_set ready = all;
        if (select(most + 1, &ready, NULL, NULL, NULL) < 0) return 1;
        for (int fd = 0; fd <= most; fd++) {
            if (!FD_ISSET(fd, &ready)) continue;
            if (fd == server) {
                int in = server;
                modbus_tcp_accept(ctx, &in); /* the library may write over what it is given */
                int got = modbus_get_socket(ctx);
                if (got >= 0) {
                    FD_SET(got, &all);
                    if (got > most) most = got;
                }
                continue;
            }
            uint8_t query[MODBUS_TCP_MAX_ADU_LENGTH];
            modbus_set_socket(ctx, fd);
            int n = modbus_receive(ctx, query);
            if (n > 0) {
                modbus_reply(ctx, query, n, map);
            } else if (n < 0) {
                close(fd);
                FD_CLR(fd, &all);
            }
        }
    }
}
