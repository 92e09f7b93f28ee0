# A module may not ask for an interrupt's description; it may raise it by its number.
s/handle_simple_irq(irq_to_desc(irqnum))/generic_handle_irq(irqnum)/
