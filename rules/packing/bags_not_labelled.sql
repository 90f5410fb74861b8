/*
title     = "Bags not labelled"
subject   = "kit"
severity  = "advice"
why       = "A bag that was left at a post comes back only if it says to whom."
not_met   = "{subject}: not every bag of it carries a mark of its owner."
not_known = "{subject}: whether its bags are labelled is not written down."
fix       = "Mark every bag and bag within it with the call sign or a member number, never with a home address (tape or luggage tags are about 5 to 15 USD), and write yes in labelled of kits.csv."
source    = "Canadian emergency group equipment section: label everything worth more than 25 USD, and every bag"
*/
select
    kit_id          as subject,
    is_labelled,
    is_labelled     as ok
from kit
