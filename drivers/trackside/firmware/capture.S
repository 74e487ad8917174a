; The pin-change interrupt: the timer first, then the pins, into a ring of 32 snapshots of 8 bytes.
;
; Nothing else happens here, so that the next edge waits 3.5 us at most: gates.c sorts the snapshots later. In assembler
; because the registers that a C interrupt saves before its first statement, and its length, would cost the stamps more
; than they may err. Both ports share it; one snapshot sees both.
;
; GPIOR1 is where the next snapshot goes, GPIOR2 the oldest that is not sorted yet, both as offsets into the ring. When
; it is full, pin-change interrupts are switched off and gates.c counts what was lost.
#define __SFR_OFFSET 0
#include <avr/io.h>

.text
.global PCINT0_vect
.global PCINT1_vect
PCINT0_vect:
PCINT1_vect:
    push r24
    lds r24, TCNT1L             ; this latches the high byte, too
    push r25
    in r25, SREG
    push r25
    push r30
    push r31
    in r30, GPIOR1
    ldi r31, 0
    subi r30, lo8(-(snapshots))
    sbci r31, hi8(-(snapshots))
    st Z, r24
    lds r24, TCNT1H
    in r25, PINC
    std Z+1, r24
    in r24, PINB
    std Z+4, r25
    std Z+5, r24
    in r24, TIFR1
    in r25, GPIOR0
    std Z+3, r24
    std Z+2, r25
    in r24, GPIOR1
    subi r24, -8
    in r25, GPIOR2
    cp r24, r25
    breq full
    out GPIOR1, r24
done:
    pop r31
    pop r30
    pop r25
    out SREG, r25
    pop r25
    pop r24
    reti
full:
    ldi r24, 0
    sts PCICR, r24
    rjmp done
