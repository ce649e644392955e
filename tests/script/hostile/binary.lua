-- Octets that are no text at all.
-- play: rule
-- expect: unexpected symbol | unfinished | malformed

