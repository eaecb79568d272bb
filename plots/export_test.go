package plots

// Golden compares a picture with the golden one of a name, for tests from outside.
var Golden = golden
