-- What a script is not given: package.loadlib.
-- play: rule
-- expect: 'package' does not exist in scripts
package.loadlib("libc.so.6", "system")
return { kind = "rule", name = "no-package", run = function() end }
