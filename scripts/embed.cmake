# cmake -DNAME=starter -DFROM=FILE -DTO=FILE.c -P embed.cmake: a C source with the file's bytes as embedded_NAME, a NUL behind them,
# and their number as embedded_NAME_n.
file(READ ${FROM} BYTES HEX)
string(REGEX REPLACE "(..)" "'\\\\x\\1'," BYTES "${BYTES}")
string(REPLACE "'\\x0a'," "'\\x0a',\n" BYTES "${BYTES}") # a line of the file a line
file(WRITE ${TO} "#include <stddef.h>\nextern const char embedded_${NAME}[];\nextern const size_t embedded_${NAME}_n;\n"
                 "const char embedded_${NAME}[] = {\n${BYTES}0};\nconst size_t embedded_${NAME}_n = sizeof embedded_${NAME} - 1;\n")
