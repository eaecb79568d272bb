// Package identify finds which phases of a collection explain a scan, and says how sure each name is.
//
// # How a phase gets its name
//
//  1. Filter. A phase may be tried when all its elements are among those stated (with those of air and etch, unless strict).
//     Phases of the preparation watch-list may be tried beyond the stated elements, but come after all others.
//  2. Screen (package screen). A matched filter says what lines the residual shows; every phase is compared with it at every
//     displacement and cell that it may have. The best are computed with all their lines.
//  3. Grow. The phase that explains most is fitted beside those found before, and so are its nearest rivals; the best fit stays.
//     A phase comes in when its scale stands the threshold above nothing, lines of its own speak for it, its cell is possible,
//     and it explains a part of what is unexplained. The threshold grows with the number of phases tried. The first pass takes
//     strong phases only, so that weak ones are not called in to mend the misfit of strong ones. After each pass everything is
//     fitted fully, and what no longer holds is taken out; what was taken out twice stays out.
//  4. Revise. Each phase is exchanged for every other that explains the same lines. A better one takes its place; one that is as good
//     stays as an alternative. Two entries that are the same substance are one candidate.
//  5. Retry. Every strong peak that is left is asked for again: phases with a strong line there are fitted, alone and in pairs.
//  6. Chance. The collection is tried at cells that are wrong beyond doubt. What such misfits explain tells how many phases would
//     explain the same lines by chance; a phase for which that is likely is taken out, unless the elements are stated.
//  7. Judge. The peaks, found without any phase, are compared with the fit: the share of their area that is explained, and a verdict on
//     the whole (function Judge). Then each phase gets its evidence, as below. Watch-list phases beyond the stated elements
//     stay only when they would be established.
//  8. Tube. When nothing is explained, the search is made again with other tubes, and one is named only if it explains the scan.
//
// Every number in this is a field of Policy, with its meaning, unit and origin.
//
// # The evidence of a name
//
// Peaks are the separate observed peaks that the phase's own lines make: several lines that make one peak are one. Missing is
// the share of its expected intensity of own lines that is not there. M is de Wolff's figure of merit of the places of its
// lines. Explained is the share of the area of all peaks of the scan that all phases account for. Chance is how many phases of
// the collection would explain the same lines by chance. Cell is the change of the edge of its cell that changed most, in per
// cent, beyond its uncertainty. Numbers are those of its cell that the scan tells: each of them can be chosen so that a peak is
// met, and only the other peaks agree.
//
// Each doubt takes one step down: from established to probable, from probable to tentative. Doubts are few peaks, missing lines, places
// that agree no better than by chance, lines that are all diffuse, a chance, a cell of a solid solution,
// intensities that are not those of the reference in such a cell where no elements are stated, and what is left
// of the scan: less than 70 % explained, or a peak left of 30 % of its strongest own line, or any when it has none
// of the stated elements; its lines may be those of what is missing then, and a lattice of a kind is met once one line is, so
// that three more peaks than numbers are asked for. Some things take both steps: alternatives, in the reference data or known beyond them (of the stated
// elements, if any; another polytype of it that has all its lines that are seen), a cell that it cannot have, much missing, no more peaks than
// numbers, a scan that is not explained, the cell of another phase that has its lines but not only stated elements, and a peak that no firm name accounts for where its lattice, if cubic, has a line that its structure
// forbids (sylvite has the lines of molybdenum and others between them). A test walks through all rows.
//
//	peaks  missing   M  explained  chance  rivals  cell  numbers  →  evidence
//	    5       0 %  50       95 %   0.001       0   0.1        1  →  established
//	    3       0 %  10       70 %   0.019       0   0.1        1  →  established
//	   60       3 % 103       95 %   0           0   0          4  →  established
//	    2       0 %  50       95 %   0.001       0   0          1  →  probable
//	    4       0 %  50       95 %   0.001       0   0          3  →  probable
//	    5       8 %  50       95 %   0.001       0   0          1  →  probable
//	    5       0 %   9       95 %   0.001       0   0          1  →  probable
//	    5       0 %  50       69 %   0.001       0   0          1  →  probable
//	    5       0 %  50       95 %   0.03        0   0          1  →  probable
//	    5       0 %   9       69 %   0.001       0   0          1  →  tentative
//	    2       0 %  50       69 %   0.001       0   0          1  →  tentative
//	    2       0 %  50       95 %   0.03        0   0          1  →  tentative
//	    5       0 %  50       49 %   0.001       0   0          1  →  tentative
//	    5      25 %  50       95 %   0.001       0   0          1  →  tentative
//	    1       0 %   0       95 %   0.001       0   0          1  →  tentative
//	    3       0 %  50       95 %   0.001       0   0          3  →  tentative
//	    5       0 %  50       95 %   0.001       1   0          1  →  tentative
//	    5       0 %  50       95 %   0.001       0   0.2        1  →  tentative
//
// # The verdict on the whole
//
// An explanation is complete when no peak is left, at least 90 % of the area of all peaks is accounted for, and no tentative name accounts
// for a peak of its own while something speaks against it (a cell that neither it nor an alternative of its can have, lines that are
// missing, chance): such a phase may stand in for one that is missing. It is none below 50 %, and partial between. Neither a line that
// texture raises nor the foot of a far stronger line is a peak that is left (function excused).
package identify
