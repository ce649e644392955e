-- Wrong syntax.
-- play: rule
-- expect: 'end' expected | unexpected symbol | expected
return { kind = "rule", name = "x", run = function( end }
