-- error(nil).
-- play: rule
-- expect: error with a nil
error()
