/*
title    = "No second antenna"
subject  = "kit"
severity = "limits"
why      = "A broken antenna looks whole; only another one shows the fault and carries on."
not_met  = "{subject}: antennas that work: {antennas}, of which {antennas_apart} can stand away from the radio; {least} are wanted, one of them away from it."
fix      = "Add a roll-up J-pole or a magnet mount (about 25 to 90 USD)."
source   = "common practice; a district net told how an antenna fault went unseen until a second was tried"
applies_to = "kits with a radio that works"

[param.least]
value  = 2
unit   = "1"
why    = "one to use and one to fall back on"
source = "common practice"

[remedy]
kind = "jpole"
*/
select
    kit_id                                          as subject,
    antennas, antennas_apart,
    list_concat(radio_lines, antenna_lines)         as lines,
    antennas >= $least and antennas_apart >= 1      as ok
from holding
where radios > 0
