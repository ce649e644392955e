# What `cmake --install` puts in place. Every path is relative, so that an installed tree may be moved.

install(TARGETS rigcall_program RUNTIME DESTINATION ${CMAKE_INSTALL_BINDIR})
install(TARGETS rigcall ARCHIVE DESTINATION ${CMAKE_INSTALL_LIBDIR})
install(DIRECTORY include/rigcall DESTINATION ${CMAKE_INSTALL_INCLUDEDIR} FILES_MATCHING PATTERN "*.h")

# The program looks for its scripts in ../share/rigcall/scripts beside itself.
install(DIRECTORY scripts/ DESTINATION ${CMAKE_INSTALL_DATADIR}/rigcall/scripts
  FILES_MATCHING PATTERN "*.lua" PATTERN "dev" EXCLUDE)

file(RELATIVE_PATH RIGCALL_PC_PREFIX /prefix/${CMAKE_INSTALL_LIBDIR}/pkgconfig /prefix)
if(TARGET PkgConfig::SECCOMP)
  set(RIGCALL_PC_SECCOMP " libseccomp")
endif()
configure_file(src/cli/rigcall.pc.in ${PROJECT_BINARY_DIR}/rigcall.pc @ONLY)
install(FILES ${PROJECT_BINARY_DIR}/rigcall.pc DESTINATION ${CMAKE_INSTALL_LIBDIR}/pkgconfig)

install(FILES src/cli/rigcall.1 DESTINATION ${CMAKE_INSTALL_MANDIR}/man1)
install(FILES LICENSE README.md DEVELOPERS.md tests/radio/regdb-LICENSE.txt DESTINATION ${CMAKE_INSTALL_DOCDIR})
install(FILES scripts/README.md DESTINATION ${CMAKE_INSTALL_DOCDIR}/scripts)
install(DIRECTORY examples DESTINATION ${CMAKE_INSTALL_DOCDIR} FILES_MATCHING PATTERN "*.lua" PATTERN "*.md" PATTERN "*.csv")
